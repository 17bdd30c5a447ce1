package door_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/web/door"
)

// The check values of the reference implementation of argon2 by its authors
// (phc-winner-argon2, src/test.c, argon2id, version 0x13).
func TestHashesOfTheReferenceImplementation(t *testing.T) {
	for _, c := range []struct{ passphrase, hash string }{
		{"password", "$argon2id$v=19$m=256,t=2,p=1$c29tZXNhbHQ$nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"},
		{"password", "$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc"},
		{"password", "$argon2id$v=19$m=65536,t=1,p=1$c29tZXNhbHQ$9qWtwbpyPd3vm1rB1GThgPzZ3/ydHL92zKL+15XZypg"},
	} {
		ok, err := door.MatchHash(c.hash, c.passphrase)
		require.NoError(t, err)
		require.True(t, ok, c.hash)
		ok, err = door.MatchHash(c.hash, c.passphrase+"s")
		require.NoError(t, err)
		require.False(t, ok, c.hash)
		again, err := door.ReadHash(c.hash)
		require.NoError(t, err)
		require.Equal(t, c.hash, again)
	}
}

// RFC 9106 section 4, second recommended option: t=3, p=4, 64 MiB, 128 bits of
// salt, 256 bits of tag.
func TestANewHashIsOfTheRecommendedCost(t *testing.T) {
	hash, err := door.HashPassphrase(bytes.NewReader([]byte("sixteen octets!!")), " four words of mine\n")
	require.NoError(t, err)
	require.NoError(t, door.CheckHash(hash))
	require.Regexp(t, `^\$argon2id\$v=19\$m=65536,t=3,p=4\$c2l4dGVlbiBvY3RldHMhIQ\$[A-Za-z0-9+/]{43}$`, hash)
	for passphrase, want := range map[string]bool{"four words of mine": true, "four words of mine ": true, "Four words of mine": false, "four words of min": false} {
		ok, err := door.MatchHash(hash, passphrase)
		require.NoError(t, err)
		require.Equal(t, want, ok, passphrase)
	}
	other, err := door.HashPassphrase(nil, "four words of mine")
	require.NoError(t, err)
	require.NotEqual(t, hash, other, "every hash has a salt of its own")
}

func TestPassphrasesThatAreNotTaken(t *testing.T) {
	for passphrase, want := range map[string]string{
		"short": "5 characters is too short", "       a       ": "1 characters is too short", "": "0 characters",
		strings.Repeat("a", 600): "too long", "12345678\xff": "not valid UTF-8",
	} {
		_, err := door.HashPassphrase(nil, passphrase)
		require.ErrorContains(t, err, want)
	}
	_, err := door.HashPassphrase(bytes.NewReader(nil), "long enough")
	require.ErrorContains(t, err, "draw a salt")
}

func TestHashesThatAreNotTaken(t *testing.T) {
	const salt, tag = "c29tZXNhbHQ", "nf65EOgLrQMR/uIPnA4rEsF5h7TKyQwu9U1bMCHGi/4"
	for hash, want := range map[string]string{
		"":                              "does not begin with $argon2id$",
		"captain's words":               "give the hash of the passphrase, not the passphrase",
		"$2b$12$abcdefghijklmnopqrstuv": "not of argon2id",
		"$argon2i$v=19$m=256,t=2,p=1$" + salt + "$" + tag:                       "not of argon2id",
		"$argon2id$m=256,t=2,p=1$" + salt + "$" + tag:                           "4 parts",
		"$argon2id$v=16$m=256,t=2,p=1$" + salt + "$" + tag:                      "not of argon2 version 19",
		"$argon2id$v=19$m=256,t=2$" + salt + "$" + tag:                          "memory, passes and lanes",
		"$argon2id$v=19$t=2,m=256,p=1$" + salt + "$" + tag:                      "memory, passes and lanes",
		"$argon2id$v=19$m=+256,t=2,p=1$" + salt + "$" + tag:                     "whole numbers",
		"$argon2id$v=19$m=0256,t=2,p=1$" + salt + "$" + tag:                     "whole numbers",
		"$argon2id$v=19$m=4194304,t=2,p=1$" + salt + "$" + tag:                  "memory in KiB of 4194304",
		"$argon2id$v=19$m=256,t=0,p=1$" + salt + "$" + tag:                      "passes of 0",
		"$argon2id$v=19$m=256,t=1000,p=1$" + salt + "$" + tag:                   "passes of 1000",
		"$argon2id$v=19$m=256,t=2,p=0$" + salt + "$" + tag:                      "lanes of 0",
		"$argon2id$v=19$m=256,t=2,p=255$" + salt + "$" + tag:                    "lanes of 255",
		"$argon2id$v=19$m=15,t=2,p=2$" + salt + "$" + tag:                       "a lane needs 8 KiB",
		"$argon2id$v=19$m=256,t=2,p=1$c2hvcnQ$" + tag:                           "salt must be 8 to 64 bytes",
		"$argon2id$v=19$m=256,t=2,p=1$" + salt + "=$" + tag:                     "salt",
		"$argon2id$v=19$m=256,t=2,p=1$" + salt + "$c2hvcnQ":                     "16 to 64 bytes",
		"$argon2id$v=19$m=256,t=2,p=1$" + salt + "$" + tag + "\n":               "line break",
		"$argon2id$v=19$m=256,t=2,p=1$" + salt + "$" + strings.Repeat("A", 9e2): "characters",
		"${MATE_PASSPHRASE}": "not of argon2id",
	} {
		err := door.CheckHash(hash)
		require.ErrorContains(t, err, want, "%q", hash)
		if len(hash) > 20 {
			require.NotContains(t, err.Error(), tag[:20], "an error does not tell the hash")
		}
	}
}

func FuzzCheckHash(f *testing.F) {
	f.Add("$argon2id$v=19$m=256,t=2,p=2$c29tZXNhbHQ$bQk8UB/VmZZF4Oo79iDXuL5/0ttZwg2f/5U52iv1cDc")
	f.Add("$argon2id$v=19$m=65536,t=3,p=4$$")
	f.Add("$argon2id$v=19$m=,t=,p=$c29tZXNhbHQ$c29tZXNhbHQ")
	f.Fuzz(func(t *testing.T, s string) {
		again, err := door.ReadHash(s)
		require.Equal(t, err == nil, door.CheckHash(s) == nil)
		if err == nil { // strict: there is one way to write each hash
			require.Equal(t, s, again)
		}
	})
}

// What a small computer at the dock has to do for one login: one hash in
// well under a second here, and several times that there.
func BenchmarkHashPassphrase(b *testing.B) {
	for b.Loop() {
		_, err := door.HashPassphrase(nil, "four words of mine")
		require.NoError(b, err)
	}
}
