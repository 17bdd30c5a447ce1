package door

import (
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
)

// mostHops is how many servers before us are looked through.
const mostHops = 16

// origins tells where requests come from, as far as a visitor can't make it
// up.
type origins struct{ trusted []netip.Prefix }

// originsOf trusts this computer itself and some networks.
func originsOf(trusted []netip.Prefix) origins {
	return origins{append([]netip.Prefix{netip.MustParsePrefix("127.0.0.0/8"), netip.MustParsePrefix("::1/128")}, trusted...)}
}

func (o origins) trusts(at netip.Addr) bool {
	return slices.ContainsFunc(o.trusted, func(p netip.Prefix) bool { return p.Contains(at) })
}

// of is the address that a request came from: that of the connection, or where
// it is a server's that is trusted, the last one that was told before any that
// is not. Anybody can write the ones before it.
func (o origins) of(r *http.Request) netip.Addr {
	at := addr(r.RemoteAddr)
	if !at.IsValid() || !o.trusts(at) {
		return at
	}
	hops, sure := told(r.Header)
	if !sure {
		return at
	}
	for i := len(hops) - 1; i >= 0 && i >= len(hops)-mostHops; i-- {
		hop := addr(hops[i])
		if !hop.IsValid() {
			return at
		}
		if at = hop; !o.trusts(hop) {
			return at
		}
	}
	return at
}

// told lists who was answered, the nearest last: by X-Forwarded-For, or by
// Forwarded (RFC 7239). A server writes one of the two and passes the other on
// as the visitor wrote it: where both are there and differ, neither counts.
func told(h http.Header) (hops []string, sure bool) {
	common, standard := list(h, "X-Forwarded-For"), list(h, "Forwarded")
	for i, element := range standard {
		standard[i] = ""
		for pair := range strings.SplitSeq(element, ";") {
			name, value, _ := strings.Cut(strings.TrimSpace(pair), "=")
			if strings.EqualFold(name, "for") {
				standard[i] = strings.Trim(value, `"`)
			}
		}
	}
	switch {
	case len(standard) == 0:
		return common, true
	case len(common) == 0:
		return standard, true
	}
	return common, slices.EqualFunc(common, standard, func(x, y string) bool { return addr(x) == addr(y) })
}

func list(h http.Header, name string) []string {
	values := h.Values(name)
	if len(values) == 0 {
		return nil
	}
	return strings.Split(strings.Join(values, ","), ",")
}

// addr reads an address with or without a port and brackets; what is none is
// the zero address.
func addr(s string) netip.Addr {
	s = strings.TrimSpace(s)
	if host, _, err := net.SplitHostPort(s); err == nil {
		s = host
	}
	at, err := netip.ParseAddr(strings.TrimSuffix(strings.TrimPrefix(s, "["), "]"))
	if err != nil {
		return netip.Addr{}
	}
	return at.Unmap().WithZone("")
}
