package grib2

import "math"

// BearingAt is At for a field whose values are bearings in degrees, in
// [0, 360). At and AtPoints do the same by themselves for the parameters that
// code table 4.2 calls directions; BearingAt is for the local ones, which the
// package cannot know.
func (f *Field) BearingAt(lat, lon float64) (Value, error) {
	v, err := f.at([]Point{{Lat: lat, Lon: lon}}, true)
	if err != nil {
		return Value{}, err
	}
	return v[0], nil
}

// isBearing tells whether code table 4.2 calls the parameter a direction.
func (f *Field) isBearing() bool {
	if f.Probability != nil {
		return false
	}
	switch [2]int{f.Discipline, f.Category} {
	case [2]int{0, 2}, [2]int{10, 1}: // wind, currents
		return f.Number == 0
	case [2]int{10, 0}: // waves; 53 to 55 are those of three swells
		switch f.Number {
		case 4, 7, 10, 12, 14, 53, 54, 55:
			return true
		}
	}
	return false
}

// bearings adds up weighted bearings as unit vectors: the mean of 359 and 1
// degree is 0.
type bearings struct{ east, north, total float64 }

func (b *bearings) add(degrees, weight float64) {
	b.east += weight * sind(degrees)
	b.north += weight * cosd(degrees)
	b.total += weight
}

// mean returns false where the bearings cancel.
func (b *bearings) mean() (float64, bool) {
	if math.Hypot(b.east, b.north) < 1e-6*b.total {
		return 0, false
	}
	d := deg(math.Atan2(b.east, b.north))
	if d < 0 {
		d += 360
	}
	return d, true
}
