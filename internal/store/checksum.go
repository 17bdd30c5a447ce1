package store

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// sumTail ends the name of the file beside a backup that holds its SHA-256
// (FIPS 180-4), as a line that sha256sum -c reads.
const sumTail = ".sha256"

// HasSum tells whether a checksum lies beside a backup.
func HasSum(backup string) bool {
	_, err := os.Stat(backup + sumTail)
	return err == nil
}

func sumOf(file string) (string, error) {
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	h := sha256.New()
	if _, err := io.Copy(h, f); err != nil {
		return "", err
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

// writeSum writes the checksum of a file, under the name that it is to have.
func writeSum(file, to string) error {
	sum, err := sumOf(file)
	if err != nil {
		return err
	}
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, "%s  %s\n", sum, strings.TrimSuffix(filepath.Base(to), sumTail))
	return errors.Join(err, f.Sync(), f.Close())
}

// checkSum holds a backup against the checksum beside it; one without is not
// held against anything.
func checkSum(backup string) error {
	b, err := os.ReadFile(backup + sumTail)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	want, _, _ := strings.Cut(strings.TrimSpace(string(b)), " ")
	got, err := sumOf(backup)
	if err != nil {
		return err
	}
	if !strings.EqualFold(got, want) {
		return fmt.Errorf("%w (its checksum is not that in %s)", ErrChanged, filepath.Base(backup)+sumTail)
	}
	return nil
}
