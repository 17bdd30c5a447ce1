package door_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/web/door"
)

func TestSessionsThatDoNotCount(t *testing.T) {
	o := options()
	now := made()
	good := door.CookieOf(o, door.Captain, now, now, now.Add(time.Hour))
	role, err := door.ReadCookie(o, good, now)
	require.NoError(t, err)
	require.Equal(t, door.Captain, role)

	otherKey := o
	otherKey.Key = bytes.Repeat([]byte("x"), 32)
	changed := o
	changed.Passphrases = map[door.Role]string{door.Captain: cheapHash("other words"), door.Mate: o.Passphrases[door.Mate]}
	mate := door.CookieOf(o, door.Mate, now, now, now.Add(time.Hour))
	for name, c := range map[string]struct {
		o     door.Options
		value string
		now   time.Time
	}{
		"expired":                          {o, good, now.Add(time.Hour)},
		"of another key":                   {o, door.CookieOf(otherKey, door.Captain, now, now, now.Add(time.Hour)), now},
		"after the passphrase was changed": {changed, good, now},
		"the mate's as the captain's":      {o, strings.Replace(mate, ".mate.", ".captain.", 1), now},
		"made to last":                     {o, strings.Replace(good, ".", ".", 1)[:len(good)-1] + "A", now},
		"a role that is none":              {o, door.CookieOf(o, "owner", now, now, now.Add(time.Hour)), now},
		"nobody":                           {o, door.CookieOf(o, door.Nobody, now, now, now.Add(time.Hour)), now},
		"without a signature":              {o, good[:strings.LastIndexByte(good, '.')+1], now},
		"empty":                            {o, "", now},
		"too long":                         {o, good + strings.Repeat("A", 300), now},
	} {
		if c.value == good && c.now.Equal(now) && name != "after the passphrase was changed" {
			t.Fatalf("%s: the case changes nothing", name)
		}
		_, err := door.ReadCookie(c.o, c.value, c.now)
		require.Error(t, err, name)
	}
	// The other role's sessions outlive the change.
	_, err = door.ReadCookie(changed, mate, now)
	require.NoError(t, err)
}

// No change of a single character is taken.
func TestASessionIsSignedWhole(t *testing.T) {
	o := options()
	good := door.CookieOf(o, door.Mate, made(), made(), made().Add(time.Hour))
	rapid.Check(t, func(t *rapid.T) {
		b := []byte(good)
		i := rapid.IntRange(0, len(b)-1).Draw(t, "place")
		c := rapid.Byte().Draw(t, "character")
		if b[i] == c {
			t.Skip("unchanged")
		}
		b[i] = c
		_, err := door.ReadCookie(o, string(b), made())
		if err == nil {
			t.Fatalf("%q was taken", b)
		}
	})
}

func FuzzSessionCookie(f *testing.F) {
	o := door.Options{Key: bytes.Repeat([]byte("k"), 32), Passphrases: map[door.Role]string{door.Mate: "hash"}}
	good := door.CookieOf(o, door.Mate, made(), made(), made().Add(time.Hour))
	f.Add(good)
	f.Add("1.mate.1.1.9999999999.AAAA.")
	f.Add("1.mate.....")
	f.Fuzz(func(t *testing.T, value string) {
		if _, err := door.ReadCookie(o, value, made()); err == nil {
			require.Equal(t, good, value)
		}
	})
}
