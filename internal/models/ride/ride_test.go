package ride

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/kite"
	"forecastd/internal/models/units"
)

const ft = units.Foot

func known[T any](v T) models.Opt[T] { return models.Known(v) }

// Common practice, no source: what guests tolerate by boat.
func TestTable(t *testing.T) {
	for _, tt := range []struct {
		kind            models.BoatKind
		length          units.Length
		easy, talk, off float64 // ft
	}{
		{models.CenterConsole, 22, 1, 2, 3},
		{models.CenterConsole, 25, 2, 3, 4},
		{models.CenterConsole, 30, 2, 3, 4},
		{models.CenterConsole, 31, 3, 4, 6},
		{models.CenterConsole, 39, 3, 4, 6},
		{models.CenterConsole, 42, 3, 4, 6},
		{models.Sportfish, 36, 3, 4, 6},
		{models.Sportfish, 40, 4, 5, 7},
		{models.Sportfish, 50, 4, 5, 7},
		{models.Sportfish, 55, 5, 6, 8},
	} {
		l := Table(tt.kind, tt.length*ft, models.Mixed)
		require.InDeltaSlice(t, []float64{tt.easy, tt.talk, tt.off},
			[]float64{l.Easy.Feet(), l.Talk.Feet(), l.CallOff.Feet()}, 1e-9, "%s %v", tt.kind, tt.length)
		require.Equal(t, l, Table(tt.kind, tt.length*ft, models.Experienced))
	}
}

// Common practice, no source: the 39 ft centre console, word for word.
func TestRideOfTheThirtyNineFooter(t *testing.T) {
	for _, tt := range []struct {
		party  models.Party
		sea    float64 // ft
		period models.Opt[float64]
		want   models.Ride
	}{
		{models.Mixed, 0, known(8.0), models.RideEasy},
		{models.Mixed, 2.9, known(6.0), models.RideEasy},
		{models.Mixed, 3, known(6.0), models.RideOK},
		{models.Mixed, 3.9, known(6.0), models.RideOK},
		{models.Mixed, 4, known(6.0), models.RideRough},
		{models.Mixed, 5.9, known(6.0), models.RideRough},
		{models.Mixed, 6, known(6.0), models.RideNo},
		// One foot off under 5 s, and where the period is unknown.
		{models.Mixed, 2.5, known(4.9), models.RideOK},
		{models.Mixed, 2.5, known(5.0), models.RideEasy},
		{models.Mixed, 5, known(4.0), models.RideNo},
		{models.Mixed, 2.5, models.Unknown[float64](), models.RideOK},
		// A child or a first-timer: one band lower.
		{models.Family, 1.9, known(6.0), models.RideEasy},
		{models.Family, 2, known(6.0), models.RideOK},
		{models.Family, 3, known(6.0), models.RideRough},
		{models.Family, 4, known(6.0), models.RideNo},
		{models.Party("toddlers"), 4, known(6.0), models.RideNo},
	} {
		l := Table(models.CenterConsole, 39*ft, tt.party)
		require.Equal(t, tt.want, Judge(l, NewScale(39*ft), units.Length(tt.sea)*ft, tt.period), "%s, %v ft, %v", tt.party, tt.sea, tt.period)
	}
}

func TestOwnNumbersRule(t *testing.T) {
	own := models.Limits{RideOff: known(5 * ft)}
	l := TableOf(models.CenterConsole, 39*ft, models.Mixed, own)
	require.Equal(t, Limits{3 * ft, 4 * ft, 5 * ft}, l)
	l = TableOf(models.CenterConsole, 39*ft, models.Mixed, models.Limits{RideOff: known(2 * ft)})
	require.Equal(t, Limits{2 * ft, 2 * ft, 2 * ft}, l, "a lower call-off pulls the others down")
	l = TableOf(models.CenterConsole, 39*ft, models.Mixed, models.Limits{RideTalk: known(7 * ft)})
	require.Equal(t, Limits{3 * ft, 7 * ft, 7 * ft}, l)
	l = TableOf(models.CenterConsole, 39*ft, models.Mixed, models.Limits{RideEasy: known(4.5 * ft)})
	require.Equal(t, Limits{4.5 * ft, 4.5 * ft, 6 * ft}, l)
	l = TableOf(models.CenterConsole, 39*ft, models.Family, own)
	require.InDelta(t, 2, l.Easy.Feet(), 1e-9, "the party moves his numbers too")
	require.Equal(t, []units.Length{3 * ft, 4 * ft}, []units.Length{l.Talk, l.CallOff})
	require.Equal(t, Table(models.Sportfish, 45*ft, models.Family), TableOf(models.Sportfish, 45*ft, models.Family, models.DefaultLimits()))
}

func drawLimits(t *rapid.T) Limits {
	opt := func(name string) models.Opt[units.Length] {
		if rapid.Bool().Draw(t, name+" given") {
			return known(units.Length(rapid.Float64Range(0.5, 10).Draw(t, name)) * ft)
		}
		return models.Unknown[units.Length]()
	}
	return TableOf(
		rapid.SampledFrom(models.BoatKinds()).Draw(t, "kind"),
		units.Length(rapid.Float64Range(18, 70).Draw(t, "length"))*ft,
		rapid.SampledFrom([]models.Party{models.Experienced, models.Mixed, models.Family}).Draw(t, "party"),
		models.Limits{RideEasy: opt("easy"), RideTalk: opt("talk"), RideOff: opt("off")})
}

func TestLimitsStayInOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLimits(t)
		require.LessOrEqual(t, l.Easy, l.Talk)
		require.LessOrEqual(t, l.Talk, l.CallOff)
		require.Greater(t, l.Easy, units.Length(0))
	})
}

// A rule of the house: a shorter period at the same height never rides better; nor
// does a higher sea, an unknown period or a family aboard.
func TestWorseIsNeverBetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawLimits(t)
		scale := NewScale(units.Length(rapid.Float64Range(18, 70).Draw(t, "boat")) * ft)
		h := units.Length(rapid.Float64Range(0, 12).Draw(t, "sea")) * ft
		more := h + units.Length(rapid.Float64Range(0, 3).Draw(t, "more"))*ft
		p := rapid.Float64Range(2, 15).Draw(t, "period")
		shorter := rapid.Float64Range(1, p).Draw(t, "shorter")
		r := Judge(l, scale, h, known(p))
		require.GreaterOrEqual(t, Judge(l, scale, h, known(shorter)), r)
		require.GreaterOrEqual(t, Judge(l, scale, more, known(p)), r)
		require.GreaterOrEqual(t, Judge(l, scale, h, models.Unknown[float64]()), r)
		require.GreaterOrEqual(t, Judge(l.For(models.Family), scale, h, known(p)), r)
	})
}

// Longer boats never ride worse in the table.
func TestLongerBoatNeverWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom(models.BoatKinds()).Draw(t, "kind")
		a := rapid.Float64Range(18, 70).Draw(t, "length")
		b := rapid.Float64Range(a, 75).Draw(t, "longer")
		one, two := Table(kind, units.Length(a)*ft, models.Mixed), Table(kind, units.Length(b)*ft, models.Mixed)
		require.LessOrEqual(t, one.Easy, two.Easy)
		require.LessOrEqual(t, one.Talk, two.Talk)
		require.LessOrEqual(t, one.CallOff, two.CallOff)
	})
}

// By hand from ISO 2631-1 annex D: dose a sqrt(T), a third of it in percent.
// The linear relation is Lawther & Griffin's.
func TestDose(t *testing.T) {
	for _, tt := range []struct {
		accel, hours, dose, share float64
	}{
		{.25, 4, 30, 10}, {.5, 2, 42.43, 14.1}, {.5, 4, 60, 20}, {1, 2, 84.85, 28.3},
	} {
		d := Dose(tt.accel, time.Duration(tt.hours*float64(time.Hour)))
		require.InDelta(t, tt.dose, d, 0.01)
		require.InDelta(t, tt.share, float64(SickShare(d)), 0.05)
	}
	require.Equal(t, models.Percent(70), SickShare(1e6))
	require.Zero(t, SickShare(-1))
}

// ISO 2631-1:1997, table 3, weighting Wf, factors times 1000, from memory;
// all twelve meet the standard's own transfer function to its last digit.
func TestWeightMatchesTheStandardsTable(t *testing.T) {
	for _, tt := range []struct{ hz, want float64 }{
		{.063, 267}, {.08, 461}, {.1, 695}, {.125, 895}, {.16, 1006}, {.2, 992},
		{.25, 854}, {.315, 619}, {.4, 384}, {.5, 224}, {.63, 116}, {.8, 53.0},
	} {
		require.InDelta(t, tt.want, 1000*Weight(tt.hz), 0.55, "%v Hz", tt.hz) // whole numbers in the table
	}
	require.Zero(t, Weight(0))
}

// By hand: a small boat in waves much longer than itself feels w² Hs/4.
func TestMoveInLongWaves(t *testing.T) {
	for _, tt := range []struct{ height, period, want float64 }{
		{.6, 4, .370}, {1, 5, .395}, {1.5, 6, .411}, {2, 8, .308},
	} {
		m, ok := Move(units.Length(tt.height), tt.period, 0, 0.01, 0).Get()
		require.True(t, ok)
		require.InDelta(t, tt.want, m.Accel, 1e-3)
		require.InDelta(t, 2*math.Pi/tt.period, m.Encounter, 1e-12)
		require.InDelta(t, 1, m.Follows, 1e-6)
	}
	require.False(t, Move(1, 0, 0, 10, 0).Known())
	require.False(t, Move(-1, 5, 0, 10, 0).Known())
}

// By hand: w - (w² V/g) cos mu, with mu = 180 into the sea: 6 s, 10 m/s.
func TestEncounter(t *testing.T) {
	w := 2 * math.Pi / 6
	into, _ := Move(1, 6, 0, 10, 10).Get()
	with, _ := Move(1, 6, 180, 10, 10).Get()
	beam, _ := Move(1, 6, 90, 10, 10).Get()
	require.InDelta(t, w+w*w*10/9.81, into.Encounter, 1e-9)
	require.InDelta(t, math.Abs(w-w*w*10/9.81), with.Encounter, 1e-9)
	require.InDelta(t, w, beam.Encounter, 1e-9)
}

func TestMotionProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := units.Length(rapid.Float64Range(0.01, 4).Draw(t, "height"))
		p := rapid.Float64Range(3, 14).Draw(t, "period")
		bow := rapid.Float64Range(0, 180).Draw(t, "bow")
		l := units.Length(rapid.Float64Range(6, 20).Draw(t, "length"))
		v := units.Speed(rapid.Float64Range(0, 12).Draw(t, "speed"))
		m, _ := Move(h, p, bow, l, v).Get()
		twice, _ := Move(2*h, p, bow, l, v).Get()
		require.InDelta(t, 2*m.Accel, twice.Accel, 1e-9, "twice the height, twice the motion")
		mirror, _ := Move(h, p, -bow, l, v).Get()
		require.InDelta(t, m.Accel, mirror.Accel, 1e-9, "port and starboard are alike")
		longer, _ := Move(h, p, bow, l*1.2, v).Get()
		require.LessOrEqual(t, longer.Accel, m.Accel+1e-12, "a longer boat moves less")
		beam, _ := Move(h, p, 90, l, 0).Get()
		head, _ := Move(h, p, 0, l, 0).Get()
		require.LessOrEqual(t, head.Accel, beam.Accel+1e-12, "lying beam on is no better than head on")
		require.GreaterOrEqual(t, m.Follows, 0.0)
		require.LessOrEqual(t, m.Follows, 1.0)
		a, ok := Unwell(m, 4*time.Hour).Get()
		require.True(t, ok)
		b, _ := Unwell(twice, 4*time.Hour).Get()
		c, _ := Unwell(m, 6*time.Hour).Get()
		require.GreaterOrEqual(t, b, a)
		require.GreaterOrEqual(t, c, a)
	})
}

func TestUnwellKeepsToItsRange(t *testing.T) {
	m, _ := Move(1, 6, 90, 39*ft, 0).Get()
	require.False(t, Unwell(m, 10*time.Minute).Known())
	six, _ := Unwell(m, 6*time.Hour).Get()
	ten, _ := Unwell(m, 10*time.Hour).Get()
	require.Equal(t, six, ten)
	calm, _ := Unwell(Motion{}, time.Hour).Get()
	require.Zero(t, calm)
}

func BenchmarkHour(b *testing.B) {
	l := Table(models.CenterConsole, 39*ft, models.Mixed)
	scale, p := NewScale(39*ft), known(6.0)
	for b.Loop() {
		_ = Judge(l, scale, 4*ft, p)
		m, _ := Move(4*ft, 6, 90, 39*ft, 0).Get()
		_ = Unwell(m, 8*time.Hour)
	}
}

// One hour of one member: drift, kite and ride together.
func BenchmarkDriftKiteAndRideOfAnHour(b *testing.B) {
	craft, set := drift.CraftFor(models.CenterConsole, 39*ft), kite.NewSet(nil, kite.DefaultLine())
	l := Table(models.CenterConsole, 39*ft, models.Mixed)
	scale, p := NewScale(39*ft), known(6.0)
	for b.Loop() {
		m := drift.Leeway(craft, 14*units.Knot, 90, false)
		_ = drift.Ground(m.Mean, units.FlowVector(2*units.Knot, 0))
		_ = set.Choose(13*units.Knot, 15*units.Knot, 18*units.Knot, kite.GasIfNoneHolds)
		_ = Judge(l, scale, 4*ft, p)
		v, _ := Move(4*ft, 6, 90, 39*ft, 0).Get()
		_ = Unwell(v, 4*time.Hour)
	}
}

// A long swell is kinder than a short chop: by the program's own share of
// guests unwell 4.1 ft at 10 s makes a quarter as many sick as 2.9 ft at 5 s,
// and the ride may not say the contrary.
func TestALongSwellIsNotWorseThanAShortChop(t *testing.T) {
	scale := NewScale(39 * ft)
	for _, party := range []models.Party{models.Experienced, models.Mixed, models.Family} {
		l := Table(models.CenterConsole, 39*ft, party)
		require.LessOrEqual(t, Judge(l, scale, 4.1*ft, known(10.0)), Judge(l, scale, 2.9*ft, known(5.0)), party)
	}
	share := func(h units.Length, p float64) models.Percent {
		m, _ := Move(h, p, 90, 39*ft, 0).Get()
		u, _ := Unwell(m, 4*time.Hour).Get()
		return u
	}
	require.Less(t, share(4.1*ft, 10), share(2.9*ft, 5)/3)
	family := Table(models.CenterConsole, 39*ft, models.Family)
	require.Equal(t, models.RideRough, Judge(family, scale, 4.1*ft, known(10.0)))
	require.Equal(t, models.RideRough, Judge(family, scale, 2.9*ft, known(5.0)))
}

// The share of guests unwell moves the table by one band at most.
func TestThePeriodMovesTheRideByOneBand(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l, scale := drawLimits(t), NewScale(units.Length(rapid.Float64Range(18, 70).Draw(t, "boat"))*ft)
		h := units.Length(rapid.Float64Range(0, 12).Draw(t, "sea")) * ft
		p := rapid.Float64Range(ShortPeriod, 25).Draw(t, "period")
		table := Judge(l, scale, h, known((UsualFrom+UsualTo)/2))
		require.InDelta(t, int(table), int(Judge(l, scale, h, known(p))), 1)
		if p >= UsualTo {
			require.LessOrEqual(t, Judge(l, scale, h, known(p)), table)
		}
	})
}
