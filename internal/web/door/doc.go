// Package door stands before the pages: it refuses what is no request for us,
// tells who asks, lets in who knows a passphrase, and ends logins. Whatever
// others guess, who knows the passphrase gets in.
package door
