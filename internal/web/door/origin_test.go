package door_test

import (
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/web/door"
)

// The forms of Forwarded are those of the examples in RFC 7239 section 4 and 6.
func TestWhereARequestCameFrom(t *testing.T) {
	own := netip.MustParsePrefix("172.18.0.0/16")
	for _, c := range []struct{ remote, common, standard, want string }{
		{"192.0.2.7:55", "", "", "192.0.2.7"},
		{"192.0.2.7:55", "198.51.100.1", "for=198.51.100.1", "192.0.2.7"}, // anybody can write that
		{"127.0.0.1:55", "", "", "127.0.0.1"},
		{"127.0.0.1:55", "203.0.113.9, 198.51.100.1", "", "198.51.100.1"}, // the last is written by our own server
		{"[::1]:55", "2001:db8:1:2:3:4:5:6", "", "2001:db8:1:2:3:4:5:6"},
		{"[2001:db8:1:2:3:4:5:6]:55", "", "", "2001:db8:1:2:3:4:5:6"},
		{"[::ffff:192.0.2.7]:55", "", "", "192.0.2.7"},
		{"[fe80::1%eth0]:55", "", "", "fe80::1"},
		{"127.0.0.1:55", "unknown", "", "127.0.0.1"},
		{"172.18.0.2:55", "198.51.100.1", "", "198.51.100.1"},
		{"172.18.0.2:55", "203.0.113.9, 198.51.100.1, 172.18.0.9", "", "198.51.100.1"}, // two of our own in a row
		{"172.18.0.2:55", "172.18.0.9", "", "172.18.0.9"},
		{"172.18.0.2:55", "198.51.100.1, nonsense, 172.18.0.9", "", "172.18.0.9"},
		{"172.19.0.2:55", "198.51.100.1", "", "172.19.0.2"},
		{"172.18.0.2:55", "198.51.100.1:4711", "", "198.51.100.1"},
		{"172.18.0.2:55", "", `for=192.0.2.43, for=198.51.100.17;by=203.0.113.60;proto=http;host=example.com`, "198.51.100.17"},
		{"172.18.0.2:55", "", `For="[2001:db8:cafe::17]:4711"`, "2001:db8:cafe::17"},
		{"172.18.0.2:55", "", `for=unknown, for=_hidden`, "172.18.0.2"},
		{"172.18.0.2:55", "", `proto=https`, "172.18.0.2"},
		// A server writes one of the two and passes the visitor's other one on.
		{"172.18.0.2:55", "198.51.100.1", "for=203.0.113.9", "172.18.0.2"},
		{"172.18.0.2:55", "198.51.100.1", "for=198.51.100.1", "198.51.100.1"},
		{"172.18.0.2:55", strings.Repeat("172.18.0.9, ", 500) + "172.18.0.9", "", "172.18.0.9"},
	} {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = c.remote
		if c.common != "" {
			r.Header.Set("X-Forwarded-For", c.common)
		}
		if c.standard != "" {
			r.Header.Set("Forwarded", c.standard)
		}
		require.Equal(t, c.want, door.AddressOf(r, own).String(), "%+v", c)
	}
	r := httptest.NewRequest(http.MethodGet, "/", nil)
	r.RemoteAddr = "@"
	require.False(t, door.AddressOf(r).IsValid())
}

// Whatever a visitor writes before it, what our own server adds counts.
func TestAVisitorCantMakeUpHisAddress(t *testing.T) {
	own := netip.MustParsePrefix("172.18.0.0/16")
	rapid.Check(t, func(t *rapid.T) {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.RemoteAddr = "172.18.0.2:55"
		r.Header.Set("X-Forwarded-For", rapid.StringMatching(`[0-9a-f.:, "=\[\];]{0,80}`).Draw(t, "written")+", 198.51.100.1")
		if made := rapid.StringMatching(`(for=[0-9a-f.:"\[\]]{0,20}[,;]?){0,3}`).Draw(t, "forwarded"); made != "" {
			r.Header.Set("Forwarded", made)
		}
		if at := door.AddressOf(r, own).String(); at != "198.51.100.1" && at != "172.18.0.2" {
			t.Fatalf("%q is believed", at)
		}
	})
}
