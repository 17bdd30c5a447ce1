package door

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"golang.org/x/crypto/argon2"
)

// The parameters of new hashes: the second recommended option of RFC 9106
// section 4 [RFC9106], which is above the least that OWASP asks for (19 MiB
// and two passes).
const (
	hashMemory  = 64 << 10 // KiB
	hashPasses  = 3
	hashLanes   = 4
	hashSaltLen = 16
	hashTagLen  = 32
)

// Bounds of what is taken from a configuration: RFC 9106 section 3.1, and no
// more memory and passes than a small computer on a boat can give.
const (
	mostMemory = 256 << 10 // KiB
	mostPasses = 16
	mostLanes  = 16
	leastSalt  = 8
	mostSalt   = 64
	leastTag   = 16
	mostTag    = 64
)

const (
	shortestPassphrase = 8 // characters
	longestPassphrase  = 512
)

// phc is a hash of a passphrase in the PHC string format:
// $argon2id$v=19$m=65536,t=3,p=4$SALT$TAG.
type phc struct {
	memory, passes uint32
	lanes          uint8
	salt, tag      []byte
}

// HashPassphrase hashes a passphrase for Options.Passphrases with argon2id,
// under the second recommended option of RFC 9106 (64 MiB, 3 passes, 4 lanes).
// The salt is drawn from random, or from crypto/rand where it is nil. Blanks
// around the passphrase do not count: the keyboards of phones add them.
func HashPassphrase(random io.Reader, passphrase string) (string, error) {
	if random == nil {
		random = rand.Reader
	}
	passphrase = strings.TrimSpace(passphrase)
	switch n := utf8.RuneCountInString(passphrase); {
	case !utf8.ValidString(passphrase):
		return "", errors.New("the passphrase is not valid UTF-8")
	case n < shortestPassphrase:
		return "", fmt.Errorf("a passphrase of %d characters is too short: take %d or more, best four words or more", n, shortestPassphrase)
	case len(passphrase) > longestPassphrase:
		return "", fmt.Errorf("a passphrase of %d bytes is too long: take %d or fewer", len(passphrase), longestPassphrase)
	}
	h := phc{memory: hashMemory, passes: hashPasses, lanes: hashLanes, salt: make([]byte, hashSaltLen), tag: make([]byte, hashTagLen)}
	if _, err := io.ReadFull(random, h.salt); err != nil {
		return "", fmt.Errorf("draw a salt: %w", err)
	}
	h.tag = h.derive(passphrase)
	return h.String(), nil
}

// CheckHash tells what is wrong with a hash of a passphrase, as a
// configuration has it: it must be an argon2id hash in the PHC string format.
func CheckHash(s string) error {
	_, err := readPHC(s)
	return err
}

// derive computes the tag of a passphrase.
func (h phc) derive(passphrase string) []byte {
	return argon2.IDKey([]byte(passphrase), h.salt, h.passes, h.memory, h.lanes, uint32(len(h.tag))) //nolint:gosec // at most mostTag
}

// match tells whether it is the hash of a passphrase, in a time that does not
// depend on where they differ.
func (h phc) match(passphrase string) bool {
	return subtle.ConstantTimeCompare(h.derive(strings.TrimSpace(passphrase)), h.tag) == 1
}

// String writes the PHC string.
func (h phc) String() string {
	e := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.memory, h.passes, h.lanes, e(h.salt), e(h.tag))
}

// readPHC reads a PHC string. What it refuses it tells without the hash.
func readPHC(s string) (phc, error) {
	var h phc
	if len(s) > 512 {
		return h, fmt.Errorf("the hash has %d characters: an argon2id hash has about 100", len(s))
	}
	parts := strings.Split(s, "$")
	switch {
	case strings.ContainsAny(s, "\r\n"): // which base64 would skip
		return h, errors.New("the hash has a line break in it")
	case parts[0] != "" || len(parts) < 2:
		return h, errors.New("the hash does not begin with $argon2id$: give the hash of the passphrase, not the passphrase")
	case parts[1] != "argon2id":
		return h, errors.New("the hash is not of argon2id, the only kind that is taken")
	case len(parts) != 6:
		return h, fmt.Errorf("the hash has %d parts between $ signs, not 5: was it cut off, or were its $ signs taken for variables", len(parts)-1)
	case parts[2] != fmt.Sprintf("v=%d", argon2.Version):
		return h, fmt.Errorf("the hash is not of argon2 version %d", argon2.Version)
	}
	values := strings.Split(parts[3], ",")
	if len(values) != 3 {
		return h, errors.New("the hash must say memory, passes and lanes, as m=65536,t=3,p=4")
	}
	for i, want := range []struct {
		key, name   string
		least, most uint64
	}{
		{"m=", "memory in KiB", 8, mostMemory},
		{"t=", "passes", 1, mostPasses},
		{"p=", "lanes", 1, mostLanes},
	} {
		digits, ok := strings.CutPrefix(values[i], want.key)
		n, err := strconv.ParseUint(digits, 10, 32)
		if !ok || err != nil || strconv.FormatUint(n, 10) != digits {
			return h, errors.New("the hash must say memory, passes and lanes as whole numbers, as m=65536,t=3,p=4")
		}
		if n < want.least || n > want.most {
			return h, fmt.Errorf("the hash asks for %s of %d: from %d to %d can be done here", want.name, n, want.least, want.most)
		}
		switch i {
		case 0:
			h.memory = uint32(n)
		case 1:
			h.passes = uint32(n)
		default:
			h.lanes = uint8(n)
		}
	}
	if h.memory < 8*uint32(h.lanes) {
		return h, fmt.Errorf("the hash asks for %d KiB on %d lanes: a lane needs 8 KiB", h.memory, h.lanes)
	}
	var err error
	if h.salt, err = base64.RawStdEncoding.Strict().DecodeString(parts[4]); err != nil || len(h.salt) < leastSalt || len(h.salt) > mostSalt {
		return h, fmt.Errorf("the hash's salt must be %d to %d bytes in base64 without padding", leastSalt, mostSalt)
	}
	if h.tag, err = base64.RawStdEncoding.Strict().DecodeString(parts[5]); err != nil || len(h.tag) < leastTag || len(h.tag) > mostTag {
		return h, fmt.Errorf("the hash itself must be %d to %d bytes in base64 without padding", leastTag, mostTag)
	}
	return h, nil
}
