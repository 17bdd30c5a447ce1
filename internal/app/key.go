package app

import (
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// keyName is the file in the state folder that holds the key which signs
// sessions and links. Without it they end; nothing else is lost.
const keyName = "forecastd.key"

const keyBytes = 32

// stateKey reads the key of a state folder, or makes it.
func stateKey(dir string, random io.Reader) ([]byte, error) {
	name := filepath.Join(dir, keyName)
	b, err := os.ReadFile(name)
	if errors.Is(err, fs.ErrNotExist) {
		return makeKey(name, random)
	}
	if err != nil {
		return nil, fmt.Errorf("read the key that signs links: %w", err)
	}
	key, err := hex.DecodeString(strings.TrimSpace(string(b)))
	if err != nil || len(key) != keyBytes {
		return nil, fmt.Errorf("%s is no key: take it away and a new one is made; who is logged in must log in again", name)
	}
	return key, nil
}

func makeKey(name string, random io.Reader) ([]byte, error) {
	key := make([]byte, keyBytes)
	if _, err := io.ReadFull(random, key); err != nil {
		return nil, fmt.Errorf("draw a key: %w", err)
	}
	// Written aside and put in place whole: a crash leaves no half key.
	f, err := os.CreateTemp(filepath.Dir(name), keyName+".*") // 0600
	if err != nil {
		return nil, fmt.Errorf("make the key that signs links: %w", err)
	}
	_, err = f.WriteString(hex.EncodeToString(key) + "\n")
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("make the key that signs links: %w", err), os.Remove(f.Name()))
	}
	return key, nil
}
