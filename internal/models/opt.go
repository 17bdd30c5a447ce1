package models

import (
	"bytes"
	"encoding/json"
)

// Opt is a value that may be unknown. The zero Opt is unknown. Unknown is
// never zero, never calm and never good: code that needs the value must ask.
type Opt[T any] struct {
	v     T
	known bool
}

// Known makes an Opt that holds v.
func Known[T any](v T) Opt[T] { return Opt[T]{v: v, known: true} }

// Unknown makes an Opt that holds nothing.
func Unknown[T any]() Opt[T] { return Opt[T]{} }

// Get returns the value and whether it is known.
func (o Opt[T]) Get() (T, bool) { return o.v, o.known }

// Known tells whether there is a value.
func (o Opt[T]) Known() bool { return o.known }

// Or returns the value, or other where it is unknown.
func (o Opt[T]) Or(other T) T {
	if o.known {
		return o.v
	}
	return other
}

// Else returns o, or other where o is unknown.
func (o Opt[T]) Else(other Opt[T]) Opt[T] {
	if o.known {
		return o
	}
	return other
}

// MapOpt applies f to a known value.
func MapOpt[T, U any](o Opt[T], f func(T) U) Opt[U] {
	if !o.known {
		return Opt[U]{}
	}
	return Known(f(o.v))
}

// MarshalJSON writes null for unknown.
func (o Opt[T]) MarshalJSON() ([]byte, error) {
	if !o.known {
		return []byte("null"), nil
	}
	return json.Marshal(o.v)
}

// UnmarshalJSON reads null as unknown.
func (o *Opt[T]) UnmarshalJSON(b []byte) error {
	*o = Opt[T]{}
	if bytes.Equal(b, []byte("null")) {
		return nil
	}
	if err := json.Unmarshal(b, &o.v); err != nil {
		return err
	}
	o.known = true
	return nil
}
