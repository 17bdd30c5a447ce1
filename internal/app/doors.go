package app

import (
	"crypto/rand"
	"fmt"
	"io"
	"net/http"

	"forecastd/config"
	"forecastd/internal/web"
	"forecastd/internal/web/door"
)

// random is where nonces, keys and salts come from.
func random() io.Reader { return rand.Reader }

// pagesFor makes the pages that a configuration asks for.
func (d *Daemon) pagesFor(cfg *config.Config) (http.Handler, error) {
	listen := d.o.Listen
	if listen == "" {
		listen = cfg.Daemon.Listen
	}
	o := web.Options{Desk: pages{d}, Hand: pages{d}, Options: door.Options{
		Now: d.now, Random: random(), Key: d.key, Base: cfg.Pages.Address, Logger: d.log, Book: d.store.Sessions(),
		Passphrases: map[door.Role]string{}, Hosts: door.Hosts(listen, cfg.Pages.Address), Trusted: cfg.Pages.TrustedProxies,
	}}
	for _, one := range []struct {
		role                door.Role
		key, file, variable string
	}{
		{door.Captain, "pages.captain_file", cfg.Pages.CaptainFile, "FORECASTD_CAPTAIN_PASSPHRASE_HASH"},
		{door.Mate, "pages.mate_file", cfg.Pages.MateFile, "FORECASTD_MATE_PASSPHRASE_HASH"},
	} {
		if one.file == "" && d.o.Getenv(one.variable) == "" {
			continue
		}
		hash, err := d.secret(one.key, one.file, one.variable)
		if err != nil {
			return nil, err
		}
		if err := door.CheckHash(hash.Reveal()); err != nil {
			return nil, fmt.Errorf("%s: %w: `forecastd setup -passphrase %s` writes it", one.key, err, one.role)
		}
		o.Passphrases[one.role] = hash.Reveal()
	}
	if d.o.Demo && len(o.Passphrases) == 0 {
		for _, role := range []door.Role{door.Captain, door.Mate} {
			hash, err := door.HashPassphrase(random(), "demo "+string(role))
			if err != nil {
				return nil, err
			}
			o.Passphrases[role] = hash
		}
		o.Hint = "demo captain, demo mate"
	}
	s, err := web.New(o)
	if err != nil {
		return nil, err
	}
	return s.Handler(), nil
}

// HashPassphrase makes the hash of a role's passphrase.
func HashPassphrase(role, passphrase string) (string, error) {
	if role != string(door.Captain) && role != string(door.Mate) {
		return "", fmt.Errorf("nobody logs in as %q: write captain or mate", role)
	}
	return door.HashPassphrase(random(), passphrase)
}
