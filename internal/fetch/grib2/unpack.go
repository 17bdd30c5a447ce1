package grib2

// unpacker yields the coded values of a field, in order. Its methods are used
// in one of two ways: next until all values are read, or pick once.
type unpacker interface {
	// next unpacks the next len(dst) values and marks the missing ones in
	// missing, which counts from dst's beginning and is clear before. missing
	// may be nil if mayMiss is false.
	next(dst []float64, missing mask) error
	// pick unpacks the values at ascending indices, and no more than it must.
	pick(want []int, dst []float64, missing mask) error
	// mayMiss tells whether a value may turn out to be missing.
	mayMiss() bool
}

// work is memory to use again.
type work struct {
	signed   []int32
	unsigned []uint32
	vals     []float64
	missing  mask
}

// open makes an unpacker for the field's coded values. It checks that the data
// are long enough for all that the headers claim.
func (f *Field) open(w *work) (unpacker, *Error) {
	if f.bad != nil {
		return nil, f.bad
	}
	p := &f.pack
	var u unpacker
	var bad *Error
	switch {
	case p.constant() || p.coded == 0:
		u = constant{p.ref}
	case p.template == 0:
		u, bad = openSimple(p, f.data, f.dataLen)
	case p.template == 2, p.template == 3:
		u, bad = openComplex(p, f.data, f.dataLen)
	case p.template == 4:
		u, bad = openIEEE(p, f.data, f.dataLen)
	default:
		u, bad = openImage(p, f.data[:f.dataLen], w)
	}
	if bad != nil {
		return nil, bad.in(f.Message, f.Index)
	}
	return u, nil
}

// constant is a field whose coded values are all the same.
type constant struct{ v float64 }

func (c constant) next(dst []float64, _ mask) error {
	for i := range dst {
		dst[i] = c.v
	}
	return nil
}

func (c constant) pick(_ []int, dst []float64, missing mask) error { return c.next(dst, missing) }

func (c constant) mayMiss() bool { return false }
