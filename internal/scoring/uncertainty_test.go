package scoring_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/scoring"
)

// More uncertainty: every member is moved farther from the middle one by one
// factor, of at least one, in all inputs, so that their order is kept.
// Confidence: the share of the members that agree with one and the same call.
//
// That more uncertainty never raises confidence cannot hold of every set of
// members, for any judge who weighs one tactic against another. Take a single
// member: the share is one or nought, so that the rule says that whoever
// agrees at some distance has agreed all the way from the middle, in every
// direction. But on the way from wind 18 kn under cloud to 11 kn under a clear
// sky lies a stretch with wind and light for sight casting, where a kite day is
// not the best one; at its end it is again (the first test below). Nor can it
// hold where the doubt itself changes the call: a trip cut short before what a
// few members bring is the surer for it; and a boat kept in by what might come
// is the more rightly in, the more might come.
//
// What does hold of every widening, and is a property here: the share of
// members in which nothing closes on the boat while it is out, under one call,
// never rises, for every limit looks one way; and no widening brings more
// members to agree than were safe before. With it hold that no spread agrees
// more than none, and that the judge's own perturbations agree the less the
// further ahead.

func TestAgreementMayComeBackFurtherOut(t *testing.T) {
	o := with(expertOutlook(t, 8), weather(18, 65))
	near, far := with(o, weather(14.5, 30)).Middle, with(o, weather(11.35, 0)).Middle
	n, w, ok := scoring.SameCall(o, []models.Member{o.Middle, near}, []models.Member{o.Middle, far})
	require.True(t, ok)
	require.Equal(t, scoring.Share{Agree: 0.5, Safe: 1}, n, "wind and light for sight casting")
	require.Equal(t, scoring.Share{Agree: 1, Safe: 1}, w)
}

// weather is a gusty wind against the current under some cloud, in knots and
// percent.
func weather(wind, cloud float64) func(h *models.Hour) {
	return func(h *models.Hour) {
		h.Wind, h.Gust, h.WindFrom = models.Known(units.Speed(wind)*kn), models.Known(units.Speed(wind+7)*kn), models.Known(units.From(90))
		h.Current, h.CurrentToward = models.Known(2*kn), models.Known(units.Toward(90))
		h.Sea, h.Period, h.SeaIncludesCurrent = models.Known(3.5*ft), models.Known(9.0), models.Known(true)
		h.Cloud = models.Known(cloud)
	}
}

func TestWideningNeverMakesACallSafer(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := complete(anOutlook(t))
		narrow := scattered(t, o, 7)
		wide := widened(o, narrow, between(t, 1, 4, "factor"))
		n, w, ok := scoring.SameCall(o, narrow, wide)
		if !ok {
			return
		}
		require.LessOrEqual(t, w.Safe, n.Safe+1e-9)
		require.LessOrEqual(t, w.Agree, n.Safe+1e-9)
	})
}

// scattered are members around the middle, every hour and input on its own.
func scattered(t *rapid.T, o models.Outlook, n int) []models.Member {
	var out []models.Member
	for range n {
		var by [7]float64
		hour := 0
		m := with(o, func(h *models.Hour) {
			if hour%3 == 0 {
				for i := range by {
					by[i] = rapid.Float64Range(-1, 1).Draw(t, "by")
				}
			}
			hour++
			h.Wind, h.Gust = off(h.Wind, units.Speed(by[0])*4*kn), off(h.Gust, units.Speed(by[1])*6*kn)
			h.Sea = off(h.Sea, units.Length(by[2])*2*ft)
			h.Cloud, h.Rain, h.Thunder = off(h.Cloud, 30*by[3]), off(h.Rain, 30*by[4]), off(h.Thunder, 20*by[5])
			h.Visibility = off(h.Visibility, units.Length(by[6])*2*units.NauticalMile)
		})
		out = append(out, m.Middle)
	}
	return out
}

// off is a value moved by an amount, never under zero.
func off[T ~float64](v models.Opt[T], by T) models.Opt[T] {
	return models.MapOpt(v, func(x T) T { return max(x+by, 0) })
}

// widened moves members farther from the middle by a factor.
func widened(o models.Outlook, members []models.Member, factor float64) []models.Member {
	out := make([]models.Member, len(members))
	for i, m := range members {
		for j, h := range m.Hours {
			c := &o.Middle.Hours[j]
			h.Wind, h.Gust, h.Sea = farther(c.Wind, h.Wind, factor), farther(c.Gust, h.Gust, factor), farther(c.Sea, h.Sea, factor)
			h.Cloud, h.Rain, h.Thunder = farther(c.Cloud, h.Cloud, factor), farther(c.Rain, h.Rain, factor), farther(c.Thunder, h.Thunder, factor)
			h.Visibility = farther(c.Visibility, h.Visibility, factor)
			out[i].Hours = append(out[i].Hours, h)
		}
	}
	return out
}

func farther[T ~float64](mid, v models.Opt[T], factor float64) models.Opt[T] {
	m := mid.Or(0)
	return models.MapOpt(v, func(x T) T { return max(m+T(factor)*(x-m), 0) })
}

// Members without any spread are as sure as it gets.
func TestSpreadNeverRaisesConfidence(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		o := anOutlook(t)
		a, b := o, o
		a.Members = members(o, make([]float64, 11), 0)
		b.Members = members(o, errorsOf(t, 11), between(t, 0, 3, "scale"))
		ca, cb := quick(a), quick(b)
		if cb.Tactic != models.TacticStayIn {
			require.LessOrEqual(t, cb.Agreement, ca.Agreement+1e-9)
		}
	})
}

// The further ahead a day is called, the wider it is perturbed. Confidence
// does not rise with it, day by day over the expert days.
func TestMoreUncertaintyNeverRaisesConfidence(t *testing.T) {
	for _, x := range expertDays(t) {
		o := expertOutlook(t, x.ID)
		var last models.Call
		for lead := range 6 {
			o.Made = o.Date.Start(o.Port.Zone).Add(-7*time.Hour - time.Duration(lead)*24*time.Hour)
			c := quick(o)
			t.Logf("day %d, %d days ahead: %s %s %.2f", x.ID, lead, c.Tactic, c.Confidence, c.Agreement)
			if lead > 0 {
				require.LessOrEqual(t, rank(c.Confidence), rank(last.Confidence), "day %d, %d days ahead", x.ID, lead)
			}
			last = c
		}
	}
}
