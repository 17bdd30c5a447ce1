// Package models holds the nouns that every room speaks of: ports and boats,
// hours and series, warnings, the outlook and the call. It computes next to
// nothing; the physics stands in its sub-packages.
package models
