package notify_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/notify"
)

// front is an invented course of the weather: a front passes at hour 12 UTC,
// with wind SW 10 kn before and NW 22 kn after, pressure falling and rising.
func front(shift time.Duration) []notify.Expected {
	passes := time.Date(2027, 1, 19, 12, 0, 0, 0, time.UTC).Add(shift)
	var out []notify.Expected
	for h := range 40 {
		at := time.Date(2027, 1, 18, 18, 0, 0, 0, time.UTC).Add(time.Duration(h) * time.Hour)
		e := notify.Expected{At: at, Wind: models.Known(10 * units.Knot), Gust: models.Known(14 * units.Knot), WindFrom: models.Known(units.From(225)), Sea: models.Known(3 * units.Foot)}
		d := at.Sub(passes).Hours()
		if d >= 0 {
			e.Wind, e.Gust, e.WindFrom = models.Known(22*units.Knot), models.Known(32*units.Knot), models.Known(units.From(315))
			e.Sea = models.Known(units.Length(3+min(d, 6)*0.5) * units.Foot)
		}
		e.Pressure = models.Known(units.Pressure(1008+max(-d*0.8, d*1.2)) * units.Hectopascal)
		out = append(out, e)
	}
	return out
}

func report(e notify.Expected) models.Observation {
	return models.Observation{Station: "XAMP1", At: e.At, Wind: e.Wind, WindFrom: e.WindFrom, Gust: e.Gust, Sea: e.Sea, Pressure: e.Pressure}
}

func verdicts(c notify.Comparison) map[string]notify.Verdict {
	out := map[string]notify.Verdict{}
	for _, i := range c.Items {
		out[i.What] = i.Verdict
	}
	return out
}

func TestCompare(t *testing.T) {
	now := time.Date(2027, 1, 19, 10, 5, 0, 0, time.UTC)
	ten := func(list []notify.Expected) models.Observation { return report(list[16]) } // 10 UTC
	said := front(0)

	c, ok := notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{report(said[13]), ten(said)}, Expected: said}, now)
	require.True(t, ok)
	require.Equal(t, map[string]notify.Verdict{"wind": notify.AsSaid, "gust": notify.AsSaid, "sea": notify.AsSaid, "pressure": notify.AsSaid}, verdicts(c))
	require.False(t, c.Early.Known())
	tendency, ok := c.Tendency.Get()
	require.True(t, ok)
	require.InDelta(t, -2.4, tendency.Hectopascals(), 1e-9)

	// The front came three hours early: at 10 it has been there for an hour.
	c, ok = notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{ten(front(-3 * time.Hour))}, Expected: said}, now)
	require.True(t, ok)
	require.Equal(t, 3*time.Hour, c.Early.Or(0))
	require.Equal(t, notify.Ahead, verdicts(c)["wind"])
	moved, ok := notify.FrontTime(time.Date(2027, 1, 19, 12, 0, 0, 0, time.UTC), []notify.Comparison{c})
	require.True(t, ok)
	require.Equal(t, "09:00", moved.Format("15:04"))

	// It should have been there and is not: behind.
	late := now.Add(4 * time.Hour) // 14 UTC, said to have passed at 12
	c, ok = notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{report(front(4 * time.Hour)[20])}, Expected: said}, late)
	require.True(t, ok)
	require.Equal(t, -4*time.Hour, c.Early.Or(0))
	require.Equal(t, notify.Behind, verdicts(c)["wind"])

	// More of everything than at any time: no shift explains it.
	o := ten(said)
	o.Wind, o.Gust, o.Sea, o.Pressure = models.Known(35*units.Knot), models.Known(50*units.Knot), models.Known(12*units.Foot), models.Known(990*units.Hectopascal)
	c, ok = notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{o}, Expected: said}, now)
	require.True(t, ok)
	require.Equal(t, map[string]notify.Verdict{"wind": notify.More, "gust": notify.More, "sea": notify.More, "pressure": notify.Less}, verdicts(c))
	require.False(t, c.Early.Known())
	_, ok = notify.FrontTime(now, []notify.Comparison{c})
	require.False(t, ok)

	// As much wind, from the other side.
	o = ten(said)
	o.WindFrom = models.Known(units.From(45))
	c, _ = notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{o}, Expected: said}, now)
	require.Equal(t, notify.Elsewhere, verdicts(c)["wind"])

	// Nothing expected, nothing new, nothing known.
	c, ok = notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{ten(said)}}, now)
	require.True(t, ok)
	require.Equal(t, notify.NotSaid, verdicts(c)["wind"])
	_, ok = notify.Compare(notify.Station{Name: "XAMP1", Reports: []models.Observation{ten(said)}, Expected: said}, now.Add(3*time.Hour))
	require.False(t, ok, "a report of three hours ago does not tell of now")
}

// A front that is early or late by whole hours is found by just that, and a
// course that is as said shows no shift.
func TestCompareFindsTheShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		shift := rapid.IntRange(-6, 6).Draw(t, "hours early")
		said := front(0)
		is := front(-time.Duration(shift) * time.Hour)
		// The hour at which the front really passes, and where it is late the
		// hour before: until then it is missed.
		i := 18 - shift
		if shift < 0 {
			i--
		}
		c, ok := notify.Compare(notify.Station{Name: "X", Reports: []models.Observation{report(is[i])}, Expected: said}, is[i].At)
		require.True(t, ok)
		require.Equal(t, time.Duration(shift)*time.Hour, c.Early.Or(0))
		require.Equal(t, shift != 0, c.Early.Known())
	})
}

// What became of a product that is still listed. That one is missing tells
// nothing by itself: see the store.
func TestBecame(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2027, 1, 19, h, 0, 0, 0, time.UTC) }
	sc := models.Warning{Event: "Small Craft Advisory", VTEC: "/O.NEW.KXAM.SC.Y.0003.270119T2000Z-270120T1200Z/", Zone: "AMZ997", Onset: at(20), Ends: models.Known(at(36))}
	con := sc
	con.VTEC = "/O.CON.KXAM.SC.Y.0003.270119T2000Z-270120T1200Z/"
	longer, shorter, open, moved := con, con, con, con
	longer.Ends, shorter.Ends, open.Ends = models.Known(at(40)), models.Known(at(30)), models.Unknown[time.Time]()
	moved.Onset = at(18)
	for name, c := range map[string]struct {
		now  models.Warning
		want notify.Change
	}{
		"continued":            {con, notify.Updated},
		"extended":             {longer, notify.Extended},
		"until further notice": {open, notify.Extended},
		"shortened":            {shorter, notify.Shortened},
		"begins earlier":       {moved, notify.Updated},
	} {
		require.Equal(t, c.want, notify.Became(sc, c.now), name)
	}
	gale := models.Warning{Event: "Gale Warning", VTEC: "/O.NEW.KXAM.GL.W.0001.270119T2000Z-270120T1200Z/", Zone: "AMZ997"}
	require.NotEqual(t, notify.WarningID(sc), notify.WarningID(gale))
	require.Equal(t, "Coastal Statement/NWS/AMZ997", notify.WarningID(models.Warning{Event: "Coastal Statement", Office: "NWS", Zone: "AMZ997"}))
	renumbered := con
	renumbered.VTEC, renumbered.Life = "/O.NEW.KXAM.SC.Y.0004.270119T2000Z-270120T1200Z/", "KXAM.SC.Y.0003"
	require.Equal(t, notify.WarningID(sc), notify.WarningID(renumbered))
	require.Equal(t, notify.EventID(sc), notify.EventID(renumbered))
}

// What is no longer listed is not called cancelled, and says what that means,
// in each language.
func TestNoLongerListedIsNotCancelled(t *testing.T) {
	now := time.Date(2027, 1, 19, 9, 0, 0, 0, time.UTC)
	w := models.Warning{Event: "Gale Warning", VTEC: "/O.NEW.KXAM.GL.W.0001.270119T2000Z-270120T1200Z/", Phenomenon: "GL", Significance: "W", Zone: "AMZ997", Onset: now, Ends: models.Known(now.Add(20 * time.Hour))}
	told := func(lang models.Language, c notify.Change) notify.Draft {
		p := captain(t)
		p.Reader.Language = lang
		return notify.Warned(p, models.Port{Name: "Port Amparo", Zone: time.UTC}, notify.WarningChange{Change: c, Warning: w, Before: models.Known(w)}, models.Unknown[time.Time](), false, now)
	}
	for lang, words := range map[models.Language][3]string{
		models.English: {"no longer listed", "not a cancellation", "Listen to the official broadcast"},
		models.Spanish: {"ya no figura en la lista", "no es una cancelación", "Escuche la emisión oficial"},
	} {
		d := told(lang, notify.Unlisted)
		require.Contains(t, d.Subject, words[0])
		require.NotContains(t, d.Subject, "cancel")
		text := strings.Join(strings.Fields(d.Text), " ")
		require.Contains(t, text, words[1])
		require.Contains(t, text, words[2])
		require.Zero(t, d.Level)
		off := told(lang, notify.Cancelled)
		require.NotEqual(t, d.Digest, off.Digest, "a cancellation after it is news")
		require.NotContains(t, strings.Join(strings.Fields(off.Text), " "), words[1])
	}
}

func TestZonesOfAProductAreToldTogether(t *testing.T) {
	at := func(h int) time.Time { return time.Date(2027, 1, 19, h, 0, 0, 0, time.UTC) }
	in := func(zone string, c notify.Change, from, to int) notify.WarningChange {
		return notify.WarningChange{Change: c, Warning: models.Warning{
			Event: "Small Craft Advisory", VTEC: "/O.NEW.KXAM.SC.Y.0003.270119T2000Z-270120T1200Z/", Zone: zone, Onset: at(from), Ends: models.Known(at(to)),
		}}
	}
	warned := func(w notify.WarningChange) notify.Draft {
		return notify.Warned(captain(t), models.Port{Name: "Port A", Zone: newYork(t)}, w, models.Unknown[time.Time](), false, at(9))
	}
	one, other := in("AMZ997", notify.Issued, 20, 36), in("AMZ996", notify.Issued, 20, 36)
	both := warned(notify.Join([]notify.WarningChange{one, other}))
	require.Contains(t, both.Subject, "(AMZ996; AMZ997)")
	require.Equal(t, both.Digest, warned(notify.Join([]notify.WarningChange{other, one})).Digest, "whichever comes first")
	require.Equal(t, warned(one).Key, both.Key)
	require.NotEqual(t, warned(one).Digest, both.Digest)

	later := in("AMZ996", notify.Issued, 22, 40)
	apart := warned(notify.Join([]notify.WarningChange{one, later}))
	require.Contains(t, apart.Text, "AMZ996: ", "each zone's own times, where they differ")
	require.Contains(t, apart.Text, "AMZ997: ")
	require.NotContains(t, both.Text, "AMZ996: ")

	off := in("AMZ997", notify.Cancelled, 20, 36)
	left := notify.Join([]notify.WarningChange{off, other})
	require.Equal(t, notify.Issued, left.Change, "it still holds in the other zone")
	require.Empty(t, left.Also)
	require.Equal(t, notify.Cancelled, notify.Join([]notify.WarningChange{off, in("AMZ996", notify.Cancelled, 20, 36)}).Change)
	require.Equal(t, notify.Unlisted, notify.Join([]notify.WarningChange{off, in("AMZ996", notify.Unlisted, 20, 36)}).Change, "not cancelled everywhere")
	require.Equal(t, notify.Extended, notify.Join([]notify.WarningChange{one, in("AMZ996", notify.Extended, 20, 40)}).Change)
	require.Equal(t, "KXAM.SC.Y.0003", notify.EventID(one.Warning))
	require.Equal(t, "Coastal Statement/NWS", notify.EventID(models.Warning{Event: "Coastal Statement", Office: "NWS", Zone: "AMZ997"}))
}
