package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"forecastd/internal/app"
)

// setupPassphrase reads a passphrase from standard input and writes its hash
// to a new file that only its owner can read.
func setupPassphrase(w world, role, to string, force bool) int {
	if to == "forecastd.yaml" {
		to = "forecastd." + role
	}
	fmt.Fprintf(w.stderr, "the %s's new passphrase, then Enter (it is shown as you type): ", role)
	const longest = 1024
	line, err := bufio.NewReader(io.LimitReader(w.stdin, longest)).ReadString('\n')
	if err != nil && !errors.Is(err, io.EOF) {
		return fail(w.stderr, exitUsage, fmt.Errorf("read the passphrase: %w", err))
	}
	fmt.Fprintln(w.stderr)
	hash, err := app.HashPassphrase(role, strings.TrimRight(line, "\r\n"))
	if err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	if err := writePrivate(w, to, []byte(hash+"\n"), force); err != nil {
		return fail(w.stderr, exitUsage, err)
	}
	if to != "-" {
		fmt.Fprintf(w.stdout, "%s is written: name it at pages.%s_file of the configuration, and tell forecastd serve to read that again (SIGHUP)\n", to, role)
	}
	return exitOK
}
