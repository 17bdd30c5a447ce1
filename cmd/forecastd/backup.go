package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"forecastd/internal/app"
)

const aboutBackup = `
Copies the store, whole and consistent, to a new file, also while the daemon
runs, and writes its checksum beside it (FILE.sha256, as sha256sum -c reads it).
The copy holds the guests' contacts: keep it where only you can read it.`

func runBackup(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "backup", "FILE [flags]", aboutBackup)
	var s sayFlags
	s.add(fs)
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	if len(rest) != 1 {
		return fail(w.stderr, exitUsage, errors.New("backup needs the name of one new file: forecastd backup FILE"))
	}
	return s.say(ctx, w, needsOld, func(a *app.App, out io.Writer) error {
		if err := a.Backup(ctx, rest[0]); err != nil {
			return err
		}
		fmt.Fprintf(out, "%s is a copy of %s\nkeep its checksum, %s.sha256, beside it: restore holds it against that\n", rest[0], a.StorePath(), rest[0])
		return nil
	})
}

const aboutRestore = `
Puts a backup in the place of the store, after checking it throughout and against
the checksum beside it. The old file is put aside, not deleted. It refuses while the daemon, or anybody else,
has the store open: stop it first.`

func runRestore(ctx context.Context, w world, args []string) int {
	fs := flagSet(w, "restore", "FILE [flags]", aboutRestore)
	var s sayFlags
	s.add(fs)
	rest, code, stop := parse(fs, w, args)
	if stop {
		return code
	}
	switch {
	case len(rest) != 1:
		return fail(w.stderr, exitUsage, errors.New("restore needs the name of one backup: forecastd restore FILE"))
	case s.data.demo && s.data.state == "":
		return fail(w.stderr, exitUsage, errors.New("the demo's own store is forgotten at once: name one with -state DIR"))
	}
	if _, err := os.Stat(rest[0]); err != nil { // else the driver would make it
		return fail(w.stderr, exitUsage, fmt.Errorf("restore: %w", err))
	}
	p, err := s.data.place(w)
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	dir := p.Dir
	aside, err := app.RestoreStore(ctx, rest[0], dir, w.now)
	if err != nil {
		return fail(w.stderr, exitUsage, whose(p, err))
	}
	told := fmt.Sprintf("the store in %s is that of %s\n", dir, rest[0])
	if !app.HasChecksum(rest[0]) {
		told += "no checksum lay beside it: it is whole, but nobody can tell whether it is what was written\n"
	}
	if aside != "" {
		told += fmt.Sprintf("what was there before is kept as %s\n", aside)
	}
	_, err = io.WriteString(w.stdout, told)
	return written(w, err)
}
