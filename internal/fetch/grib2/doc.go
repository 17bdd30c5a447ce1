// Package grib2 reads GRIB edition 2: bytes in, fields out, and the value of
// a field at a place. It does no I/O and reads no clock.
//
// Read finds the messages in a byte slice and describes every field in them
// without unpacking any. A Field then answers for one place (At), for many in
// one pass (AtPoints), for a pair of vector components (VectorAtPoints), as a
// whole (Values) or in summary (Stats). Fields keep pointing into the slice
// given to Read, which must not be changed while they are used; a Field is safe
// for concurrent use.
//
// Supported are grid definition templates 3.0, 3.10, 3.20 and 3.30 and data
// representation templates 5.0, 5.2, 5.3, 5.4, 5.40, 5.41 and 5.42. A field
// with another template is described as far as the standard allows and says
// what it lacks when its values are asked for.
//
// Whatever the bytes claim, no more memory is taken than a small multiple of
// their number, save that unpacking a whole field takes 8 octets a grid point,
// and a field of more than 2^21 points must bring at least one octet of data
// for every 4096 points. No field may have more than 40,000,000 points.
//
// Source: WMO Manual on Codes, No. 306, Volume I.2, FM 92 GRIB edition 2
// (WMO306 in REFERENCES.md).
package grib2
