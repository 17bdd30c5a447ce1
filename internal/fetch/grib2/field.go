package grib2

import "time"

// Field is one field of a message: what it is, where and when, and its packed
// values. Fields come from Read.
type Field struct {
	Message    int // which message of the file, from 1
	Index      int // which field of the message, from 1
	Discipline int // code table 0.0: 0 meteorological, 10 oceanographic
	Origin
	Product
	Grid            *Grid // nil if the grid template is not supported; shared by the fields that have the same one
	GridTemplate    int   // 3.n
	PackingTemplate int   // 5.n
	Count           int   // all grid points, the missing ones included

	pack    packing
	bitmap  *bitmap // nil: every point has a value
	data    []byte  // what section 7 holds, and whatever follows it
	dataLen int     // octets of data that are section 7's
	bad     *Error  // why the values cannot be had, or nil
	badGrid *Error  // why there is no Grid
}

// Origin is what section 1 says: who made the message, and when.
type Origin struct {
	Centre, Subcentre       int // common code tables C-11 and C-12: 7 NCEP, 98 ECMWF
	MasterTable, LocalTable int
	Run                     time.Time // reference time
	Significance            int       // of Run, code table 1.2: 0 analysis, 1 start of forecast
	Status                  int       // code table 1.3: 0 operational, 1 test
}

func parseOrigin(s section) (Origin, *Error) {
	if !s.has(21) {
		return Origin{}, fault(1, 1, "%d octets are too few, 21 are needed", len(s))
	}
	run, bad := s.instant(1, 13)
	return Origin{
		Centre: s.u16(6), Subcentre: s.u16(8), MasterTable: s.u8(10), LocalTable: s.u8(11),
		Significance: s.u8(12), Run: run, Status: s.u8(20),
	}, bad
}

// At returns the value at a place, in degrees north and east.
func (f *Field) At(lat, lon float64) (Value, error) {
	v, err := f.AtPoints([]Point{{Lat: lat, Lon: lon}})
	if err != nil {
		return Value{}, err
	}
	return v[0], nil
}
