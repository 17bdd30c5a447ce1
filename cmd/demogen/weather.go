package main

import (
	"math"
	"math/rand/v2"
	"time"

	"forecastd/internal/models/tide"
)

// asOf is the demo's evening: half past five at the invented port, on the
// evening before the day that `call -demo` calls.
func asOf() time.Time { return time.Date(2027, 1, 18, 22, 30, 0, 0, time.UTC) }

// hour counts hours of invented time from midnight UTC of 18 January 2027.
func hour(t time.Time) float64 {
	return t.Sub(time.Date(2027, 1, 18, 0, 0, 0, 0, time.UTC)).Hours()
}

// The invented place: open sea to the east, a coast that runs north and
// south, a boundary current that sets north.
const (
	portLat, portLon     = 27.2, -79.9
	groundLat, groundLon = 27.2, -79.83
	coastLon             = -79.88 // the GRIB fields are land west of it
)

// knot is one value of a course of weather at an hour; between them it goes
// straight.
type knot struct{ hour, value float64 }

func course(h float64, knots []knot) float64 {
	for i := 1; i < len(knots); i++ {
		if h < knots[i].hour {
			a, b := knots[i-1], knots[i]
			x := max(0, min(1, (h-a.hour)/(b.hour-a.hour)))
			return a.value + (b.value-a.value)*x
		}
	}
	return knots[len(knots)-1].value
}

// A cold front passes at 21 UTC (16:00 at the port) on the 19th, hour 45:
// southerly wind freshens and turns gusty ahead of it over water cooler than
// the air, a line of storms comes with it, the wind veers to the north-west
// and then the north, against the current; by the 21st it has gone round to
// the north-east and east and the sea lies down.
func wind(h float64) (knots, from float64) {
	speed := course(h, []knot{{0, 9}, {24, 10}, {33, 11}, {38, 13}, {42, 16}, {44.5, 19}, {45.5, 24}, {49, 23}, {56, 20}, {60, 17}, {68, 15}, {74, 13}, {84, 12}, {96, 11}, {110, 10}, {130, 9}, {168, 10}, {264, 11}})
	dir := course(h, []knot{{0, 140}, {20, 155}, {30, 175}, {38, 190}, {44, 205}, {45, 225}, {46, 290}, {49, 315}, {54, 340}, {60, 360}, {70, 375}, {80, 395}, {92, 420}, {110, 450}, {135, 460}, {168, 490}, {264, 470}})
	return speed, math.Mod(dir, 360)
}

func gust(h float64) float64 {
	w, _ := wind(h)
	spread := course(h, []knot{{0, 3}, {36, 4}, {40, 5}, {43, 7}, {44.5, 10}, {46, 11}, {50, 8}, {58, 5}, {62, 4}, {264, 4}})
	return w + spread
}

// sea is the height in feet and the peak period in seconds of the sea on the
// ground, the current's work included.
func sea(h float64) (feet, period, from float64) {
	feet = course(h, []knot{{0, 2}, {30, 2}, {38, 2.4}, {42, 3}, {45, 4}, {48, 6}, {52, 6.5}, {58, 5.4}, {62, 4.6}, {70, 4}, {78, 3.4}, {88, 3}, {100, 2.6}, {120, 2.3}, {264, 2.5}})
	period = course(h, []knot{{0, 5}, {40, 5}, {46, 5}, {52, 6}, {62, 6.4}, {74, 6.5}, {90, 7}, {120, 7.5}, {264, 7}})
	from = course(h, []knot{{0, 140}, {38, 180}, {45, 200}, {50, 320}, {56, 350}, {62, 364}, {74, 375}, {90, 405}, {110, 440}, {264, 450}})
	return feet, period, math.Mod(from, 360)
}

// swell is a long low one from the north-east that the front does not touch.
func swell(h float64) (feet, period, from float64) {
	return course(h, []knot{{0, 1}, {60, 1}, {84, 2}, {120, 1.6}, {264, 1.5}}), course(h, []knot{{0, 8}, {70, 8}, {90, 9}, {264, 8}}), 50
}

// current is the boundary current on the ground.
func current(h float64) (knots, toward float64) {
	return course(h, []knot{{0, 1.6}, {36, 1.8}, {60, 2.0}, {84, 1.9}, {120, 1.4}, {264, 1.6}}), course(h, []knot{{0, 358}, {60, 362}, {264, 359}})
}

func thunder(h float64) float64 {
	return course(h, []knot{{0, 5}, {36, 5}, {40, 10}, {42, 20}, {43.5, 45}, {46.5, 45}, {48, 10}, {51, 0}, {264, 2}})
}

func rain(h float64) float64 {
	return course(h, []knot{{0, 5}, {38, 10}, {42, 25}, {43.5, 60}, {47, 60}, {50, 10}, {54, 0}, {120, 5}, {264, 15}})
}

func cloud(h float64) float64 {
	return course(h, []knot{{0, 25}, {34, 30}, {40, 50}, {43, 85}, {48, 90}, {53, 40}, {58, 15}, {72, 10}, {96, 20}, {150, 35}, {264, 35}})
}

func visibility(h float64) (nmi float64) {
	return course(h, []knot{{0, 10}, {43, 10}, {44, 4}, {47, 4}, {48.5, 10}, {264, 10}})
}

func airC(h float64) float64 {
	return course(h, []knot{{0, 23.5}, {20, 25}, {30, 24.5}, {41, 26.5}, {45, 25}, {46, 21}, {52, 17}, {60, 14.5}, {68, 17}, {76, 17.5}, {84, 18}, {100, 21}, {130, 23}, {264, 24}})
}

const seaC = 23.4

func pressure(h float64) float64 {
	return course(h, []knot{{0, 1018}, {20, 1015.5}, {36, 1012}, {45, 1008.5}, {50, 1012}, {60, 1018}, {84, 1023}, {120, 1021}, {264, 1019}})
}

// The tide and the stream in the inlet have invented harmonic constants, the
// ones of demo.yaml.
func tideStation() tide.Station {
	return tide.Station{ID: "8799001", Mean: 0.45, Constituents: []tide.Constituent{
		{Name: "M2", Amplitude: 0.38, Phase: 40}, {Name: "S2", Amplitude: 0.07, Phase: 75}, {Name: "N2", Amplitude: 0.09, Phase: 10}, {Name: "K1", Amplitude: 0.06, Phase: 180},
	}}
}

func inlet() tide.Stream {
	return tide.Stream{ID: "XAI0901", Axes: tide.Axes{Flood: 275, Ebb: 82}, Constituents: []tide.Constituent{
		{Name: "M2", Amplitude: 1.05, Phase: 320}, {Name: "S2", Amplitude: 0.18, Phase: 355}, {Name: "N2", Amplitude: 0.24, Phase: 290},
	}}
}

// noise makes repeatable small errors for what stations report.
func noise(seed uint64) func(size float64) float64 {
	r := rand.New(rand.NewPCG(seed, 20270118))
	return func(size float64) float64 { return size * max(-2, min(2, r.NormFloat64())) }
}
