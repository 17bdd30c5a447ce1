package config

import (
	"fmt"
	"log/slog"
)

// Secret is a password or a shared secret. However it is printed, it reads
// "<secret>"; Reveal is the one way to its text. The file never holds one: it
// names a file that does, or the environment does.
type Secret struct{ text string }

// hidden is what a secret prints as.
const hidden = "<secret>"

// NewSecret wraps a text.
func NewSecret(text string) Secret { return Secret{text} }

// Reveal returns the text, for the one place that needs it.
func (s Secret) Reveal() string { return s.text }

// Empty tells whether there is none.
func (s Secret) Empty() bool { return s.text == "" }

// String hides it.
func (s Secret) String() string { return hidden }

// Format hides it from every verb.
func (s Secret) Format(f fmt.State, _ rune) { _, _ = f.Write([]byte(hidden)) }

// LogValue hides it from logs.
func (s Secret) LogValue() slog.Value { return slog.StringValue(hidden) }

// MarshalText hides it from JSON, YAML and their like.
func (s Secret) MarshalText() ([]byte, error) { return []byte(hidden), nil }
