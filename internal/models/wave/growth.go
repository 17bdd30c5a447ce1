package wave

import (
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Limit is what kept a sea from growing further.
type Limit string

// Limits.
const (
	ByFetch    Limit = "fetch"
	ByDuration Limit = "duration"
	ByWind     Limit = "wind" // fully grown
)

// Grown is the sea that a steady wind raises over open deep water. Published
// growth formulas differ by 20 to 30 %: it is there to see whether a
// forecast sea is plausible, never to take its place.
type Grown struct {
	// Height and Period are significant height and peak period by the Shore
	// Protection Manual.
	Height units.Length
	Period time.Duration
	Limit  Limit
	// Low and High are the lowest and highest height that three published
	// formulas give: Shore Protection Manual, JONSWAP (with the Manual's
	// duration), Coastal Engineering Manual.
	Low, High units.Length
}

// Growth returns the sea that a steady wind at 10 m raises over a fetch in a
// time, from a flat start, in deep water. With UA = 0.71 U^1.23 (m/s):
//
//	by fetch     H = 0.0016 UA²/g (gF/UA²)^(1/2)   T = 0.2857 UA/g (gF/UA²)^(1/3)
//	by duration  H = 8.51e-5 UA²/g (gt/UA)^(5/7)   T = 0.0702 UA/g (gt/UA)^0.411
//	by wind      H = 0.2433 UA²/g                  T = 8.134 UA/g
//
// the lowest of the three. Unknown outside 1 to 35 m/s, 0.1 to 2000 km and
// 10 min to 10 days.
//
// Reference: SPM1984 ch. 3; ACES1992 eqs. 27 to 33; Hasselmann1973; CEM2002
// eqs. II-2-35 to II-2-38.
func Growth(u10 units.Speed, fetch units.Length, duration time.Duration) models.Opt[Grown] {
	u, f, t := float64(u10), float64(fetch), duration.Seconds()
	if !(u >= 1 && u <= 35) || !(f >= 100 && f <= 2e6) || !(t >= 600 && t <= 864000) {
		return models.Unknown[Grown]()
	}
	ua := 0.71 * math.Pow(u, 1.23)
	spm := growSPM(ua, f, t)

	// JONSWAP: m0 = 1.6e-7 u⁴/g² (gF/u²), held to Pierson and Moskowitz, with
	// the fetch that the Manual lets a sea run in the time.
	ran := ua * ua / gravity * math.Pow(gravity*t/ua/68.8, 1.5)
	x := gravity * min(f, ran) / (u * u)
	jonswap := min(4*math.Sqrt(1.6e-7*x), 0.22) * u * u / gravity

	cem := growCEM(u, f, t)
	return models.Known(Grown{
		Height: units.Length(spm.h), Period: time.Duration(spm.t * float64(time.Second)), Limit: spm.limit,
		Low:  units.Length(min(spm.h, jonswap, cem)),
		High: units.Length(max(spm.h, jonswap, cem)),
	})
}

type grownSea struct {
	h, t  float64 // m, s
	limit Limit
}

// growSPM is the Shore Protection Manual, in the form of ACES1992 eqs. 27 to
// 33, for an adjusted wind UA (m/s), a fetch (m) and a time (s) over deep
// water. The lowest of the three heights holds, so that nothing jumps.
func growSPM(ua, fetch, t float64) grownSea {
	x, tau := gravity*fetch/(ua*ua), gravity*t/ua
	s := grownSea{h: 0.0016 * math.Sqrt(x), t: 0.2857 * math.Cbrt(x), limit: ByFetch}
	if h := 8.51e-5 * math.Pow(tau, 5.0/7); h < s.h {
		s = grownSea{h: h, t: min(s.t, 0.0702*math.Pow(tau, 0.411)), limit: ByDuration}
	}
	if s.h >= 0.2433 {
		s = grownSea{h: 0.2433, t: 8.134, limit: ByWind}
	}
	s.h *= ua * ua / gravity
	s.t = min(s.t, 8.134) * ua / gravity
	return s
}

// growCEM is the height by the Coastal Engineering Manual, with the friction
// velocity u*² = 0.001 (1.1 + 0.035 U) U²; a short time counts as the fetch
// that the waves run in it.
func growCEM(u, fetch, t float64) float64 {
	us2 := 0.001 * (1.1 + 0.035*u) * u * u
	x := min(gravity*fetch/us2, 5.23e-3*math.Pow(gravity*t/math.Sqrt(us2), 1.5))
	return min(0.0413*math.Sqrt(x), 211.5) * us2 / gravity
}
