package store

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"time"

	"forecastd/internal/models"
)

// What goes into a column: nil is NULL.

func at(t time.Time) int64 { return t.Unix() }

// atOrNull keeps the zero time as NULL.
func atOrNull(t time.Time) any {
	if t.IsZero() {
		return nil
	}
	return t.Unix()
}

func optAt(t models.Opt[time.Time]) any { return atOrNull(t.Or(time.Time{})) }

// number keeps an unknown value as NULL. A value that is no finite number
// means nothing and is kept as unknown too.
func number[T ~float64](o models.Opt[T]) any {
	v, ok := o.Get()
	if !ok || math.IsNaN(float64(v)) || math.IsInf(float64(v), 0) {
		return nil
	}
	return float64(v)
}

func integer[T ~int | ~int64](o models.Opt[T]) any {
	if v, ok := o.Get(); ok {
		return int64(v)
	}
	return nil
}

func flag(o models.Opt[bool]) any {
	if v, ok := o.Get(); ok {
		return v
	}
	return nil
}

// words keeps a value by what it prints.
func words[T fmt.Stringer](o models.Opt[T]) any {
	if v, ok := o.Get(); ok {
		return v.String()
	}
	return nil
}

func word[T ~string](o models.Opt[T]) any {
	if v, ok := o.Get(); ok {
		return string(v)
	}
	return nil
}

// document keeps a value as JSON.
func document(v any) (string, error) {
	b, err := json.Marshal(v)
	return string(b), err
}

// What comes out of a column: scanners that write where they are told.

type scanner func(src any) error

// Scan is what database/sql calls.
func (s scanner) Scan(src any) error { return s(src) }

func toTime(t *time.Time) scanner {
	return func(src any) error {
		*t = time.Time{}
		if src == nil {
			return nil
		}
		n, ok := src.(int64)
		if !ok {
			return fmt.Errorf("read an instant: got %T", src)
		}
		*t = time.Unix(n, 0).UTC()
		return nil
	}
}

func toOptTime(o *models.Opt[time.Time]) scanner {
	return func(src any) error {
		var t time.Time
		if err := toTime(&t)(src); err != nil || src == nil {
			*o = models.Unknown[time.Time]()
			return err
		}
		*o = models.Known(t)
		return nil
	}
}

func toNumber[T ~float64](o *models.Opt[T]) scanner {
	return func(src any) error {
		switch v := src.(type) {
		case nil:
			*o = models.Unknown[T]()
		case float64:
			*o = models.Known(T(v))
		case int64:
			*o = models.Known(T(v))
		default:
			return fmt.Errorf("read a number: got %T", src)
		}
		return nil
	}
}

func toInteger[T ~int | ~int64](o *models.Opt[T]) scanner {
	return func(src any) error {
		switch v := src.(type) {
		case nil:
			*o = models.Unknown[T]()
		case int64:
			*o = models.Known(T(v))
		default:
			return fmt.Errorf("read a whole number: got %T", src)
		}
		return nil
	}
}

func toFlag(o *models.Opt[bool]) scanner {
	return func(src any) error {
		switch v := src.(type) {
		case nil:
			*o = models.Unknown[bool]()
		case int64:
			*o = models.Known(v != 0)
		default:
			return fmt.Errorf("read a yes or no: got %T", src)
		}
		return nil
	}
}

func toWord[T ~string](o *models.Opt[T]) scanner {
	return func(src any) error {
		switch v := src.(type) {
		case nil:
			*o = models.Unknown[T]()
		case string:
			*o = models.Known(T(v))
		default:
			return fmt.Errorf("read a word: got %T", src)
		}
		return nil
	}
}

// toText reads a value that knows its own text form, like a date.
func toText(u interface{ UnmarshalText([]byte) error }) scanner {
	return func(src any) error {
		s, ok := src.(string)
		if !ok {
			return fmt.Errorf("read a text: got %T", src)
		}
		return u.UnmarshalText([]byte(s))
	}
}

func toOptText[T any, P interface {
	*T
	UnmarshalText([]byte) error
}](o *models.Opt[T]) scanner {
	return func(src any) error {
		*o = models.Unknown[T]()
		if src == nil {
			return nil
		}
		var v T
		if err := toText(P(&v))(src); err != nil {
			return err
		}
		*o = models.Known(v)
		return nil
	}
}

// toDocument reads JSON.
func toDocument(v any) scanner {
	return func(src any) error {
		s, ok := src.(string)
		if !ok {
			return fmt.Errorf("read a document: got %T", src)
		}
		return json.Unmarshal([]byte(s), v)
	}
}

// marks are n question marks for a VALUES list or an IN list.
func marks(n int) string { return strings.TrimSuffix(strings.Repeat("?,", n), ",") }
