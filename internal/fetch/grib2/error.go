package grib2

import (
	"errors"
	"fmt"
	"strings"
)

// ErrUnsupported marks what is legal in GRIB but not read here: a grid or a
// packing template, an edition, an option of a code stream.
var ErrUnsupported = errors.New("not supported")

// ErrNoMessage marks bytes that hold no GRIB message at all.
var ErrNoMessage = errors.New("no GRIB message")

// Error says what is wrong with a message and where.
type Error struct {
	Message int    // which message of the file, from 1; 0 is the file as a whole
	Field   int    // which field of the message, from 1; 0 is the message as a whole
	Section int    // section of the message, 0 to 8
	Octet   int    // octet of the section, from 1; 0 is the section as a whole
	Reason  string // what is wrong, and the number that is
	Err     error  // the cause, such as ErrUnsupported, or nil
}

// Error reads "message 2, field 1: section 7, octet 6: …".
func (e *Error) Error() string {
	var b strings.Builder
	if e.Message > 0 {
		fmt.Fprintf(&b, "message %d", e.Message)
		if e.Field > 0 {
			fmt.Fprintf(&b, ", field %d", e.Field)
		}
		fmt.Fprintf(&b, ": section %d", e.Section)
		if e.Octet > 0 {
			fmt.Fprintf(&b, ", octet %d", e.Octet)
		}
		b.WriteString(": ")
	}
	b.WriteString(e.Reason)
	if e.Err != nil {
		b.WriteString(": ")
		b.WriteString(e.Err.Error())
	}
	return b.String()
}

// Unwrap returns the cause.
func (e *Error) Unwrap() error { return e.Err }

// fault is an Error that does not know its message and field yet.
func fault(section, octet int, format string, args ...any) *Error {
	return &Error{Section: section, Octet: octet, Reason: fmt.Sprintf(format, args...)}
}

// unsupported is a fault that errors.Is finds to be ErrUnsupported.
func unsupported(section, octet int, format string, args ...any) *Error {
	e := fault(section, octet, format, args...)
	e.Err = ErrUnsupported
	return e
}

// in tells the fault where it happened.
func (e *Error) in(message, field int) *Error {
	c := *e
	c.Message, c.Field = message, field
	return &c
}
