package units

import (
	"fmt"
	"math"
)

// From is the true bearing, in degrees, that something comes from: wind,
// waves, swell. Toward is the bearing it goes to: currents, drift, a course.
// They are different types, so that mixing them up does not compile.
type From float64

// Toward is the true bearing, in degrees, that something moves to.
type Toward float64

// Degrees returns the bearing in [0, 360).
func (f From) Degrees() float64 { return wrap360(float64(f)) }

// Degrees returns the bearing in [0, 360).
func (t Toward) Degrees() float64 { return wrap360(float64(t)) }

// Toward returns where something that comes from f goes to.
func (f From) Toward() Toward { return Toward(wrap360(float64(f) + 180)) }

// From returns where something that goes to t comes from.
func (t Toward) From() From { return From(wrap360(float64(t) + 180)) }

// Point names the nearest of the sixteen compass points: "NNE".
func (f From) Point() string { return compassPoint(float64(f)) }

// Point names the nearest of the sixteen compass points.
func (t Toward) Point() string { return compassPoint(float64(t)) }

// String prints the bearing with its sense.
func (f From) String() string {
	return fmt.Sprintf("from %03.0f°", math.Mod(math.Round(f.Degrees()), 360))
}

// String prints the bearing with its sense.
func (t Toward) String() string {
	return fmt.Sprintf("toward %03.0f°", math.Mod(math.Round(t.Degrees()), 360))
}

// Apart returns the angle between two bearings, 0 to 180 degrees.
func Apart[T From | Toward](a, b T) float64 {
	return math.Abs(wrap180(float64(a) - float64(b)))
}

// FromPoint reads one of the sixteen compass points.
func FromPoint(s string) (From, bool) {
	for i, p := range points() {
		if p == s {
			return From(float64(i) * 22.5), true
		}
	}
	return 0, false
}

// Vector is a horizontal velocity by its components toward east and north.
type Vector struct{ East, North Speed }

// WindVector is the velocity of air that comes from a bearing.
func WindVector(s Speed, from From) Vector { return FlowVector(s, from.Toward()) }

// FlowVector is the velocity of something that moves toward a bearing.
func FlowVector(s Speed, toward Toward) Vector {
	sin, cos := math.Sincos(toward.Degrees() * math.Pi / 180)
	return Vector{East: Speed(float64(s) * sin), North: Speed(float64(s) * cos)}
}

// Add returns v + w.
func (v Vector) Add(w Vector) Vector { return Vector{v.East + w.East, v.North + w.North} }

// Sub returns v - w.
func (v Vector) Sub(w Vector) Vector { return Vector{v.East - w.East, v.North - w.North} }

// Scale returns v times k.
func (v Vector) Scale(k float64) Vector {
	return Vector{Speed(float64(v.East) * k), Speed(float64(v.North) * k)}
}

// Speed returns the magnitude.
func (v Vector) Speed() Speed { return Speed(math.Hypot(float64(v.East), float64(v.North))) }

// Toward returns the bearing that the vector points to. A vector shorter than
// a millionth of a metre per second has no direction and answers false.
func (v Vector) Toward() (Toward, bool) {
	if v.Speed() < 1e-6 {
		return 0, false
	}
	return Toward(wrap360(math.Atan2(float64(v.East), float64(v.North)) * 180 / math.Pi)), true
}

// From returns the bearing that the vector comes from, as Toward does.
func (v Vector) From() (From, bool) {
	t, ok := v.Toward()
	return t.From(), ok
}

// Along returns the component of v toward a bearing.
func (v Vector) Along(t Toward) Speed {
	sin, cos := math.Sincos(t.Degrees() * math.Pi / 180)
	return Speed(float64(v.East)*sin + float64(v.North)*cos)
}

func wrap360(d float64) float64 {
	d = math.Mod(d, 360)
	if d < 0 {
		d += 360
	}
	if d >= 360 { // -1e-17 + 360
		d = 0
	}
	return d
}

func wrap180(d float64) float64 {
	d = wrap360(d)
	if d > 180 {
		d -= 360
	}
	return d
}

func compassPoint(d float64) string { return points()[int(math.Round(wrap360(d)/22.5))%16] }

func points() [16]string {
	return [16]string{"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"}
}
