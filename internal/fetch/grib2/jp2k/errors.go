package jp2k

import "fmt"

// A SyntaxError says where the octets are not a JPEG2000 code stream, or end
// too early.
type SyntaxError struct {
	Offset int // octet of the code stream, from 0
	What   string
}

// Error tells the octet.
func (e *SyntaxError) Error() string {
	return fmt.Sprintf("jpeg2000: octet %d: %s", e.Offset, e.What)
}

// An UnsupportedError names what lies outside the subset of JPEG2000 that
// gridded weather data use.
type UnsupportedError struct {
	Offset int // octet of the code stream, from 0
	What   string
}

// Error tells the octet and what is not supported.
func (e *UnsupportedError) Error() string {
	return fmt.Sprintf("jpeg2000: octet %d: not supported: %s", e.Offset, e.What)
}
