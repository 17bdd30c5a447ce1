package grib2

import (
	"errors"
	"math"
)

// Values are all values of a field, unpacked. A place in it is named either by
// column from the west and row from the south, or by its order in the file.
type Values struct {
	grid     *Grid
	vals     []float64 // file order; nil if all that are not missing equal constant
	constant float64
	missing  mask
	bitmap   *bitmap // stands for missing where vals is nil
	count    int

	work work // memory to use again
}

// Values unpacks the whole field. Every grid point takes 8 octets of memory; a
// field all of whose values are the same takes none.
func (f *Field) Values() (*Values, error) {
	v := new(Values)
	if err := f.Unpack(v); err != nil {
		return nil, err
	}
	return v, nil
}

// Unpack is Values with the memory of v used again.
func (f *Field) Unpack(v *Values) error {
	u, bad := f.open(&v.work)
	if bad != nil {
		return bad
	}
	*v = Values{grid: f.Grid, count: f.Count, work: v.work}
	if c, ok := u.(constant); ok {
		v.constant, v.bitmap = c.v, f.bitmap
		return nil
	}
	octets := f.dataLen
	if f.bitmap != nil {
		octets += len(f.bitmap.bits)
	}
	if bad := backed(f.Count, octets); bad != nil {
		return bad.in(f.Message, f.Index)
	}
	v.work.vals = sized(v.work.vals, f.Count)
	vals, missing := v.work.vals, mask(nil)
	coded := vals[:f.pack.coded]
	if u.mayMiss() {
		v.work.missing = sized(v.work.missing, (len(coded)+63)/64)
		missing = v.work.missing
		clear(missing)
	}
	if err := u.next(coded, missing); err != nil {
		return f.locate(err)
	}
	if f.bitmap != nil {
		missing = f.bitmap.spread(vals, missing)
	}
	v.vals, v.missing = vals, missing
	return nil
}

// backed refuses to take memory for values that the data cannot hold.
func backed(values, octets int) *Error {
	const always, perOctet = 1 << 21, 4096
	if values > always && values/perOctet > octets {
		return fault(7, 1, "%d octets of data are too few to believe in %d values", octets, values)
	}
	return nil
}

// locate tells an Error which message and field it belongs to.
func (f *Field) locate(err error) error {
	if e := (*Error)(nil); errors.As(err, &e) {
		return e.in(f.Message, f.Index)
	}
	return err
}

// Len returns the number of grid points, the missing ones included.
func (v *Values) Len() int { return v.count }

// At returns the value of a column, from the west, and a row, from the south,
// and whether there is one. The field must have a Grid.
func (v *Values) At(col, row int) (float64, bool) { return v.InFile(v.grid.index(col, row)) }

// InFile returns the value that stands k-th in the file, from 0, and whether
// there is one.
func (v *Values) InFile(k int) (float64, bool) {
	if v.vals == nil {
		if v.bitmap != nil && !v.bitmap.has(k) {
			return 0, false
		}
		return v.constant, true
	}
	return v.vals[k], !v.missing.has(k)
}

// Place returns the place of the k-th value of the file. The field must have a
// Grid.
func (v *Values) Place(k int) (lat, lon float64) { return v.grid.LatLon(v.grid.place(k)) }

// Stats summarise a field.
type Stats struct {
	Count   int // all grid points
	Missing int
	// Of the values that are not missing; zero if all are.
	Min, Mean, Max float64
}

// Stats unpacks the field piece by piece and summarises it, without ever
// holding it whole.
func (f *Field) Stats() (Stats, error) {
	u, bad := f.open(new(work))
	if bad != nil {
		return Stats{}, bad
	}
	s := summary{min: math.Inf(1), max: math.Inf(-1)}
	if c, ok := u.(constant); ok {
		s.n, s.min, s.max, s.sum = f.pack.coded, c.v, c.v, c.v*float64(f.pack.coded)
		return s.stats(f.Count), nil
	}
	const piece = 4096
	vals := make([]float64, min(piece, f.pack.coded))
	var missing mask
	if u.mayMiss() {
		missing = newMask(len(vals))
	}
	for left := f.pack.coded; left > 0; {
		part := vals[:min(left, len(vals))]
		clear(missing)
		if err := u.next(part, missing); err != nil {
			return Stats{}, f.locate(err)
		}
		s.add(part, missing)
		left -= len(part)
	}
	return s.stats(f.Count), nil
}

type summary struct {
	n             int
	min, max, sum float64
}

func (s *summary) add(vals []float64, missing mask) {
	var sum float64
	for i, v := range vals {
		if missing.has(i) {
			continue
		}
		s.n++
		sum += v
		s.min = min(s.min, v)
		s.max = max(s.max, v)
	}
	s.sum += sum
}

func (s *summary) stats(count int) Stats {
	out := Stats{Count: count, Missing: count - s.n}
	if s.n > 0 {
		out.Min, out.Max, out.Mean = s.min, s.max, s.sum/float64(s.n)
	}
	return out
}
