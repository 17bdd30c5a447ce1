package app

import (
	"fmt"
	"os"
	"strings"

	"forecastd/config"
)

// longestSecret bounds a secret's file: a password is short, and a wrong name
// may lead to something large.
const longestSecret = 4096

// secret reads a secret from the environment or from the file that a key of
// the configuration names. It is part of no error.
func (d *Daemon) secret(key, file, variable string) (config.Secret, error) {
	if s := d.o.Getenv(variable); s != "" {
		return config.NewSecret(s), nil
	}
	if file == "" {
		return config.Secret{}, fmt.Errorf("%s names no file and $%s is empty: give one of them", key, variable)
	}
	info, err := os.Stat(file)
	if err != nil {
		return config.Secret{}, fmt.Errorf("%s: %w", key, err)
	}
	if info.Size() > longestSecret {
		return config.Secret{}, fmt.Errorf("%s: %s is larger than any secret: it must hold the secret and nothing else", key, file)
	}
	if info.Mode().Perm()&0o004 != 0 {
		d.log.Warn("everybody on this machine can read a secret: take that right away", "file", file)
	}
	b, err := os.ReadFile(file)
	if err != nil {
		return config.Secret{}, fmt.Errorf("%s: %w", key, err)
	}
	s := strings.TrimRight(string(b), "\r\n")
	if strings.TrimSpace(s) == "" || strings.ContainsAny(s, "\r\n") {
		return config.Secret{}, fmt.Errorf("%s: %s must hold the secret in one line and nothing else", key, file)
	}
	return config.NewSecret(s), nil
}
