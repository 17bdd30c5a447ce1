package app

import (
	"crypto/rand"
	"fmt"
	"io"
	"net/http"

	"forecastd/config"
	"forecastd/internal/web"
)

// random is where nonces, keys and salts come from.
func random() io.Reader { return rand.Reader }

// pagesFor makes the pages that a configuration asks for.
func (d *Daemon) pagesFor(cfg *config.Config) (http.Handler, error) {
	listen := d.o.Listen
	if listen == "" {
		listen = cfg.Daemon.Listen
	}
	o := web.Options{
		Desk: pages{d}, Hand: pages{d}, Now: d.now, Random: random(), Key: d.key, Base: cfg.Pages.Address, Logger: d.log,
		Passphrases: map[web.Role]string{}, Hosts: web.Hosts(listen, cfg.Pages.Address),
	}
	for _, one := range []struct {
		role                web.Role
		key, file, variable string
	}{
		{web.Captain, "pages.captain_file", cfg.Pages.CaptainFile, "FORECASTD_CAPTAIN_PASSPHRASE_HASH"},
		{web.Mate, "pages.mate_file", cfg.Pages.MateFile, "FORECASTD_MATE_PASSPHRASE_HASH"},
	} {
		if one.file == "" && d.o.Getenv(one.variable) == "" {
			continue
		}
		hash, err := d.secret(one.key, one.file, one.variable)
		if err != nil {
			return nil, err
		}
		if err := web.CheckHash(hash.Reveal()); err != nil {
			return nil, fmt.Errorf("%s: %w: `forecastd setup -passphrase %s` writes it", one.key, err, one.role)
		}
		o.Passphrases[one.role] = hash.Reveal()
	}
	if d.o.Demo && len(o.Passphrases) == 0 {
		for _, role := range []web.Role{web.Captain, web.Mate} {
			hash, err := web.HashPassphrase(random(), "demo "+string(role))
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
	if role != string(web.Captain) && role != string(web.Mate) {
		return "", fmt.Errorf("nobody logs in as %q: write captain or mate", role)
	}
	return web.HashPassphrase(random(), passphrase)
}
