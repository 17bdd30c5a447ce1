package models

import "time"

// Session is a login at the pages as the daemon keeps it.
type Session struct {
	// Token is a hash of what the browser holds: who reads it here can't log
	// in with it.
	Token string
	Role  string
	// Under is a hash of the passphrase's hash: another passphrase ends it.
	Under string
	// Began is when the passphrase was given, Used when the pages were last
	// known to be opened with it, Expires when it stops to count.
	Began, Used, Expires time.Time
}
