package grib2

import (
	"math"

	"forecastd/internal/models/units"
)

// BearingAt returns the value at a place of a field of bearings in degrees,
// in [0, 360). Bearings are mixed as unit vectors, so that 350 and 10 make 0;
// where they cancel, there is no value. Low and High are not set.
func (f *Field) BearingAt(lat, lon float64) (Value, error) {
	pts, err := sample([]Point{{Lat: lat, Lon: lon}}, f)
	if err != nil {
		return Value{}, err
	}
	p := pts[0]
	if !p.inside {
		return Value{How: Outside}, nil
	}
	nodes, how, away := p.mix(func(k int) bool { return p.has(0, k) })
	var east, north float64
	for _, n := range nodes {
		sin, cos := math.Sincos(p.get(0, n.index) * math.Pi / 180)
		east += n.weight * sin
		north += n.weight * cos
	}
	if math.Hypot(east, north) < 1e-6 {
		return Value{How: Missing}, nil
	}
	b := deg(math.Atan2(east, north))
	if b < 0 {
		b += 360
	}
	return Value{How: how, Away: units.Length(away), v: b}, nil
}
