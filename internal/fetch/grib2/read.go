package grib2

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
)

const (
	// maxPoints is the most grid points that a field may have. The largest
	// public field known to us, a radar mosaic, has 24,500,000.
	maxPoints = 40_000_000
	// maxErrors is how many errors Read reports of one file.
	maxErrors = 1000

	startMark = "GRIB"
	endMark   = "7777"
)

// Read finds the messages in b and describes their fields, in file order. It
// unpacks no values. Bytes between the messages are passed over; a message
// that cannot be read is reported, and the reading goes on behind it, so that
// good messages before and after a bad one are still read. Every "GRIB" that
// could begin a message counts as one, read or not.
//
// A field whose values cannot be had, for its packing is unknown or its
// sections contradict each other, is in the list too; what is wrong with it is
// among the errors and is what its methods answer. GRIB edition 1 messages are
// stepped over and reported as ErrUnsupported. Every error is an *Error.
func Read(b []byte) ([]*Field, []error) {
	r := reader{b: b}
	for at := 0; at < len(b); {
		i := bytes.Index(b[at:], []byte(startMark))
		if i < 0 {
			break
		}
		r.message++
		at = r.readMessage(at + i)
	}
	if r.message == 0 {
		r.errs = append(r.errs, &Error{Reason: whatIsIt(b), Err: ErrNoMessage})
	}
	return r.fields, r.errs
}

// whatIsIt names what came in place of GRIB.
func whatIsIt(b []byte) string {
	head := bytes.ToLower(bytes.TrimSpace(b[:min(len(b), 512)]))
	switch {
	case len(b) == 0:
		return "the file is empty"
	case bytes.HasPrefix(head, []byte("<")):
		return "a page of HTML or XML in place of the data"
	}
	return fmt.Sprintf("%d octets of something else", len(b))
}

// reader walks a file. What the sections of one message leave behind is in
// state, for sections that are not repeated hold on.
type reader struct {
	b       []byte
	message int
	fields  []*Field
	errs    []error

	lastGrid section // section 3 as last parsed, and what came of it
	grid     *Grid
	gridErr  *Error
}

// state is what the sections of one message have said so far.
type state struct {
	origin     Origin
	discipline int
	field      int // how many fields the message has had
	section    int // number of the section before

	points       int
	gridTemplate int
	grid         *Grid
	gridErr      *Error // no grid, but values can be had
	pointsErr    *Error // no values either

	product    *Product
	productErr *Error

	packing    packing
	packingErr *Error

	bitmap     *bitmap // in force
	lastBitmap *bitmap // last defined in this message
	bitmapErr  *Error
}

func (r *reader) report(e *Error) {
	switch {
	case len(r.errs) < maxErrors:
		r.errs = append(r.errs, e)
	case len(r.errs) == maxErrors:
		r.errs = append(r.errs, &Error{Message: r.message, Reason: "there are more errors than are reported"})
	}
}

// readMessage reads the message that begins at start and returns where to look
// for the next one.
func (r *reader) readMessage(start int) int {
	b := r.b[start:]
	resume := start + len(startMark)
	size, bad := frame(b)
	if bad != nil {
		r.report(bad.in(r.message, 0))
		if errors.Is(bad, errEdition1) {
			return start + size
		}
		return resume
	}
	st := state{discipline: int(b[6])}
	for at := 16; ; {
		if at == size-4 {
			if st.section != 7 {
				r.report(fault(8, 1, "the message ends after section %d", st.section).in(r.message, 0))
			}
			return start + size
		}
		n, bad := nextSection(b[:size-4], at, st.section)
		if bad != nil {
			r.report(bad.in(r.message, 0))
			return start + at
		}
		if bad := r.take(&st, b, at, n); bad != nil {
			r.report(bad.in(r.message, 0))
			return start + at
		}
		at += n
	}
}

// errEdition1 is the cause of stepping over a GRIB edition 1 message.
var errEdition1 = fmt.Errorf("GRIB edition 1 is %w", ErrUnsupported)

// frame checks section 0 and the end of the message that b begins with, and
// returns its length.
func frame(b []byte) (int, *Error) {
	if len(b) < 8 {
		return 0, fault(0, 1, "%d octets are left, a message needs at least 16", len(b))
	}
	edition := b[7]
	if edition == 1 {
		size := int(b[4])<<16 | int(b[5])<<8 | int(b[6])
		if size < 8 || size > len(b) || string(b[size-4:size]) != endMark {
			return 0, fault(0, 5, "a GRIB edition 1 message of %d octets, which it is not", size)
		}
		return size, &Error{Octet: 8, Reason: "stepped over", Err: errEdition1}
	}
	if edition != 2 {
		return 0, unsupported(0, 8, "GRIB edition %d", edition)
	}
	if len(b) < 20 {
		return 0, fault(0, 1, "%d octets are left, a message needs at least 20", len(b))
	}
	size := binary.BigEndian.Uint64(b[8:])
	switch {
	case size < 20:
		return 0, fault(0, 9, "a total length of %d octets is too short", size)
	case size > uint64(len(b)):
		return 0, fault(0, 9, "truncated: a total length of %d octets, but only %d are left", size, len(b))
	case string(b[size-4:size]) != endMark:
		return 0, fault(0, 9, "no 7777 at the end that a total length of %d octets leads to", size)
	}
	return int(size), nil
}

// nextSection checks the header of the section at an offset of the message b,
// which is without its end mark, and returns its length.
func nextSection(b []byte, at, before int) (int, *Error) {
	after := fmt.Sprintf("after section %d", before)
	if bytes.HasPrefix(b[at:], []byte(endMark)) {
		return 0, fault(8, 1, "an end mark %s, %d octets before the end", after, len(b)-at)
	}
	if len(b)-at < 5 {
		return 0, fault(before, 1, "%d octets are left %s, a section needs at least 5", len(b)-at, after)
	}
	n, number := int(binary.BigEndian.Uint32(b[at:])), int(b[at+4])
	if !follows(number, before) {
		return 0, fault(number, 5, "section %d is out of place %s", number, after)
	}
	if n < 5 || n > len(b)-at {
		return 0, fault(number, 1, "a length of %d octets where %d are left in the message", n, len(b)-at)
	}
	return n, nil
}

// follows tells whether a section may stand after another:
// (1 ([2] (3 (4 5 6 7)+)+)+ 8).
func follows(number, before int) bool {
	switch number {
	case 1:
		return before == 0
	case 2:
		return before == 1 || before == 7
	case 3:
		return before == 1 || before == 2 || before == 7
	case 4:
		return before == 3 || before == 7
	case 5, 6, 7:
		return before == number-1
	}
	return false
}

// take reads the section of n octets at an offset of the message. It returns
// an error only for what makes the rest of the message worthless; what spoils
// single fields is kept for them.
func (r *reader) take(st *state, message []byte, at, n int) *Error {
	s := section(message[at : at+n])
	st.section = s.u8(5)
	switch st.section {
	case 1:
		var bad *Error
		st.origin, bad = parseOrigin(s)
		return bad
	case 3:
		r.takeGrid(st, s)
	case 4:
		st.product, st.productErr = parseProduct(s, st.origin.Run)
	case 5:
		st.packing, st.packingErr = parsePacking(s)
	case 6:
		st.takeBitmap(s)
	case 7:
		st.field++
		r.takeField(st, message[at+5:], n-5)
	}
	return nil
}

func (r *reader) takeGrid(st *state, s section) {
	st.points, st.grid, st.gridErr, st.pointsErr, st.gridTemplate = 0, nil, nil, nil, -1
	if !s.has(14) {
		st.pointsErr = fault(3, 1, "%d octets are too few for a grid definition", len(s))
		return
	}
	st.points, st.gridTemplate = s.u32(7), s.u16(13)
	if st.points > maxPoints {
		st.pointsErr = fault(3, 7, "%d grid points are more than %d", st.points, maxPoints)
		return
	}
	if !bytes.Equal(s, r.lastGrid) {
		r.lastGrid = s
		r.grid, r.gridErr = parseGrid(s)
	}
	st.grid, st.gridErr = r.grid, r.gridErr
	if g := st.grid; g != nil && g.Ni*g.Nj != st.points {
		st.pointsErr = fault(3, 7, "%d grid points where %d × %d make %d", st.points, g.Ni, g.Nj, g.Ni*g.Nj)
	}
}

func (st *state) takeBitmap(s section) {
	st.bitmap, st.bitmapErr = nil, nil
	if !s.has(6) {
		st.bitmapErr = fault(6, 1, "%d octets are too few for a bitmap section", len(s))
		return
	}
	switch indicator := s.u8(6); indicator {
	case 255:
	case 254:
		if st.bitmap = st.lastBitmap; st.bitmap == nil {
			st.bitmapErr = fault(6, 6, "the bitmap is the one before (254), but there is none")
		}
	case 0:
		if need := (st.points + 7) / 8; len(s)-6 < need {
			st.bitmapErr = fault(6, 1, "%d octets of bitmap, %d points need %d", len(s)-6, st.points, need)
			return
		}
		if st.pointsErr == nil {
			st.bitmap = newBitmap(s[6:], st.points)
			st.lastBitmap = st.bitmap
		}
	default:
		st.bitmapErr = unsupported(6, 6, "bitmap %d, predefined by the centre", indicator)
	}
}

// takeField makes a field of what the sections have said.
func (r *reader) takeField(st *state, data []byte, n int) {
	if st.product == nil {
		r.report(st.productErr.in(r.message, st.field))
		return
	}
	f := &Field{
		Message: r.message, Index: st.field, Discipline: st.discipline,
		Origin: st.origin, Product: *st.product,
		Grid: st.grid, GridTemplate: st.gridTemplate,
		PackingTemplate: st.packing.template, Count: st.points,
		pack: st.packing, bitmap: st.bitmap, data: data, dataLen: n,
	}
	r.fields = append(r.fields, f)
	here := func(e *Error) *Error {
		if e == nil {
			return nil
		}
		e = e.in(f.Message, f.Index)
		r.report(e)
		return e
	}
	here(st.productErr)
	f.badGrid = here(st.gridErr)
	for _, bad := range []*Error{st.pointsErr, st.packingErr, st.bitmapErr} {
		if bad != nil {
			f.bad = here(bad)
			return
		}
	}
	f.bad = here(f.checkCounts())
}

// checkCounts compares what the sections say about the number of values.
func (f *Field) checkCounts() *Error {
	if f.bitmap == nil {
		if f.pack.coded != f.Count {
			return fault(5, 6, "%d values for %d grid points and no bitmap", f.pack.coded, f.Count)
		}
		return nil
	}
	if f.bitmap.n != f.Count {
		return fault(6, 6, "a bitmap of %d points for %d grid points", f.bitmap.n, f.Count)
	}
	if f.pack.coded != f.bitmap.ones {
		return fault(5, 6, "%d values where the bitmap has %d", f.pack.coded, f.bitmap.ones)
	}
	return nil
}
