package door_test

import (
	"encoding/base64"
	"strings"
	"time"

	"golang.org/x/crypto/argon2"

	"forecastd/internal/web/door"
)

func made() time.Time { return time.Date(2027, 1, 18, 22, 30, 0, 0, time.UTC) }

// options are a door's with the passphrases "captain's words" and "mate's
// words", hashed cheaply.
func options() door.Options {
	return door.Options{
		Now: made, Key: []byte(strings.Repeat("k", 32)),
		Passphrases: map[door.Role]string{door.Captain: cheapHash("captain's words"), door.Mate: cheapHash("mate's words")},
	}
}

// cheapHash is a hash of the least memory and one pass.
func cheapHash(passphrase string) string {
	salt, e := []byte("a salt for tests"), base64.RawStdEncoding.EncodeToString
	return "$argon2id$v=19$m=8,t=1,p=1$" + e(salt) + "$" + e(argon2.IDKey([]byte(passphrase), salt, 1, 8, 1, 32))
}
