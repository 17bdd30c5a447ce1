package config

import (
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// readLimits reads the captain's own limits over the defaults.
func readLimits(t *table) models.Limits {
	g := t.group("limits", "the captain's own limits")
	l := models.DefaultLimits()
	const kn, ft = units.Knot, units.Foot
	wind, stream := speed(0, 100*kn), speed(0, 15*kn)
	sea, share, angle := height(0.5*ft, 60*ft), percent(0, 100), degrees(0, 180)
	part := ratio(0, 1)

	l.KiteWind = readRamp(g, "kite_wind", "the wind that flies kites", wind, l.KiteWind)
	h := g.group("helium", "the winds under which kites want helium")
	l.HeliumSuggest = want(h, "suggest_under", wind, l.HeliumSuggest)
	l.HeliumNeed = want(h, "need_under", wind, l.HeliumNeed)
	rising(h, wind, value[units.Speed]{"need_under", l.HeliumNeed}, value[units.Speed]{"suggest_under", l.HeliumSuggest})
	h.done()

	h = g.group("gust_spread", "gust minus mean wind")
	l.GustFine = want(h, "fine", wind, l.GustFine)
	l.GustMarginal = want(h, "marginal", wind, l.GustMarginal)
	l.GustPoor = want(h, "poor", wind, l.GustPoor)
	rising(h, wind, value[units.Speed]{"fine", l.GustFine}, value[units.Speed]{"marginal", l.GustMarginal}, value[units.Speed]{"poor", l.GustPoor})
	h.done()

	l.GustTopFine, l.GustTopNone = pair(g, "gust", "the gust at 10 m that kites stand", wind, "fine", l.GustTopFine, "none", l.GustTopNone)
	l.DirectionFine, l.DirectionPoor = pair(g, "direction_spread", "how far the wind's direction ranges in an hour", angle, "fine", l.DirectionFine, "poor", l.DirectionPoor)
	l.RainLowers, l.RainStops = pair(g, "rain", "chance of steady rain", share, "lowers", l.RainLowers, "stops", l.RainStops)
	l.ThunderWarn, l.ThunderStop = pair(g, "thunder", "chance of thunder", share, "warn", l.ThunderWarn, "stop", l.ThunderStop)

	own := g.group("own", "counts as a small craft advisory")
	l.OwnWind = want(own, "wind", wind, l.OwnWind)
	l.OwnGust = want(own, "gust", wind, l.OwnGust)
	l.OwnSea = want(own, "sea", sea, l.OwnSea)
	rising(own, wind, value[units.Speed]{"wind", l.OwnWind}, value[units.Speed]{"gust", l.OwnGust})
	own.done()

	never := g.group("never", "no charter, whatever else")
	l.NeverWind = want(never, "wind", wind, l.NeverWind)
	l.NeverGust = want(never, "gust", wind, l.NeverGust)
	l.NeverSea = want(never, "sea", sea, l.NeverSea)
	l.NeverMembers = want(never, "members", percent(1, 100), l.NeverMembers*100) / 100
	l.StayMembers = want(never, "clear_members", percent(1, 100), l.StayMembers*100) / 100
	rising(never, wind, value[units.Speed]{"wind", l.NeverWind}, value[units.Speed]{"gust", l.NeverGust})
	notUnder(never, own, "wind", wind, l.NeverWind, l.OwnWind)
	notUnder(never, own, "gust", wind, l.NeverGust, l.OwnGust)
	notUnder(never, own, "sea", sea, l.NeverSea, l.OwnSea)
	never.done()

	h = g.group("scenarios", "the days that the forecast may come to, over which the plan is made")
	l.Courses = want(h, "count", count(8, 512), l.Courses)
	l.CloseShare = want(h, "close", percent(1, 100), l.CloseShare*100) / 100
	l.GoShare = want(h, "go", percent(1, 100), l.GoShare*100) / 100
	l.PlainShare = want(h, "tell_doubt_under", percent(1, 100), l.PlainShare*100) / 100
	h.done()

	l.TailingWind = readRamp(g, "tailing_wind", "the wind that brings fish up to tail", wind, l.TailingWind)
	l.OppositionUseful, l.OppositionStrong = pair(g, "opposition", "cosine of wind-from minus current-toward: 1 is dead against", part, "useful", l.OppositionUseful, "strong", l.OppositionStrong)
	l.TailCurrentUseful, l.TailCurrentStrong = pair(g, "tail_current", "current that makes tails", stream, "useful", l.TailCurrentUseful, "strong", l.TailCurrentStrong)
	l.SunStart, l.SunFull = pair(g, "sun", "sun elevation for sight casting", degrees(0, 90), "start", l.SunStart, "full", l.SunFull)
	l.CloudFull, l.CloudNil = pair(g, "cloud", "cloud for sight casting", share, "full_under", l.CloudFull, "nil_over", l.CloudNil)

	h = g.group("glare", "the sun in the eyes, which halves sight casting")
	l.GlareAzimuth = want(h, "within", angle, l.GlareAzimuth)
	l.GlareElevation = want(h, "under", degrees(0, 90), l.GlareElevation)
	h.done()

	readRide(g, &l, sea)
	fog := farness(0, 10*units.NauticalMile)
	h = g.group("visibility", "fog")
	l.FogWait = want(h, "wait_under", fog, l.FogWait)
	l.FogStay = want(h, "stay_under", fog, l.FogStay)
	l.FogClear = want(h, "clear_for", span(0, 6*time.Hour), l.FogClear)
	rising(h, fog, value[units.Length]{"stay_under", l.FogStay}, value[units.Length]{"wait_under", l.FogWait})
	h.done()

	h = g.group("inlet", "the sea in the mouth after the ebb")
	l.InletSector = want(h, "sector", angle, l.InletSector)
	l.InletWait = want(h, "wait", sea, l.InletWait)
	l.InletStay = want(h, "stay", sea, l.InletStay)
	l.InletUnknown = want(h, "unknown_ebb", sea, l.InletUnknown)
	l.InletSteep = want(h, "steepness", ratio(0.01, 0.142), l.InletSteep)
	l.InletSteepFrom = want(h, "steep_from", height(0, 60*ft), l.InletSteepFrom)
	rising(h, sea, value[units.Length]{"wait", l.InletWait}, value[units.Length]{"stay", l.InletStay})
	h.done()

	h = g.group("back_inside", "how long before a closed hour the boat is back")
	margin := span(0, 12*time.Hour)
	l.OfficialMargin = want(h, "official", margin, l.OfficialMargin)
	l.OwnMargin = want(h, "own", margin, l.OwnMargin)
	h.done()

	h = g.group("drift", "the drift through the water")
	l.DriftSlow = want(h, "slow", stream, l.DriftSlow)
	l.DriftGood1 = want(h, "good_from", stream, l.DriftGood1)
	l.DriftGood2 = want(h, "good_to", stream, l.DriftGood2)
	l.DriftUsable = want(h, "usable", stream, l.DriftUsable)
	l.DriftTooFast = want(h, "too_fast", stream, l.DriftTooFast)
	rising(h, stream, value[units.Speed]{"slow", l.DriftSlow}, value[units.Speed]{"good_from", l.DriftGood1},
		value[units.Speed]{"good_to", l.DriftGood2}, value[units.Speed]{"usable", l.DriftUsable}, value[units.Speed]{"too_fast", l.DriftTooFast})
	h.done()

	h = g.group("times", "times of the day's work")
	l.SetUp = want(h, "set_up", span(0, 4*time.Hour), l.SetUp)
	l.Turnaround = want(h, "turnaround", span(0, 12*time.Hour), l.Turnaround)
	l.Earliest = want(h, "earlier", span(0, 12*time.Hour), l.Earliest)
	l.Latest = want(h, "later", span(0, 12*time.Hour), l.Latest)
	l.ShortestTrip = want(h, "shortest", span(0, 12*time.Hour), l.ShortestTrip)
	h.done()

	h = g.group("grades", "the worth of an hour from which it is called so")
	l.GradePoor = want(h, "poor", part, l.GradePoor)
	l.GradeFair = want(h, "fair", part, l.GradeFair)
	l.GradeGood = want(h, "good", part, l.GradeGood)
	rising(h, part, value[float64]{"poor", l.GradePoor}, value[float64]{"fair", l.GradeFair}, value[float64]{"good", l.GradeGood})
	h.done()
	l.Weights = readWeights(g, l.Weights)
	g.done()
	return l
}

// readWeights reads what the plan of a day trades, in hours of perfect
// fishing.
func readWeights(g *table, w models.Weights) models.Weights {
	h := g.group("weights", "what the plan trades, in hours of perfect fishing")
	hours, part, change := ratio(0, 10), ratio(0, 1), span(0, 4*time.Hour)
	w.WindInKites = want(h, "wind_in_kites", change, w.WindInKites)
	w.SetKites = want(h, "set_kites", change, w.SetKites)
	w.Change = want(h, "change", hours, w.Change)
	w.Cut = want(h, "cut", hours, w.Cut)
	w.Earlier = want(h, "earlier", hours, w.Earlier)
	w.Later = want(h, "later", hours, w.Later)
	w.RoughHour = want(h, "rough_hour", hours, w.RoughHour)
	w.WorthLeaving = want(h, "worth_leaving", part, w.WorthLeaving)
	w.Agree = want(h, "agree", part, w.Agree)
	w.OneTactic = want(h, "one_tactic", part, w.OneTactic)
	h.done()
	return w
}

// readRide reads the captain's own table for this boat: all of it or nothing.
func readRide(g *table, l *models.Limits, sea kind[units.Length]) {
	h, ok := g.part("ride", "the captain's own table of seas for this boat")
	if !ok {
		return
	}
	easy, talk, off := need(h, "easy_under", sea), need(h, "talk_from", sea), need(h, "off_from", sea)
	rising(h, sea, value[units.Length]{"easy_under", easy}, value[units.Length]{"talk_from", talk}, value[units.Length]{"off_from", off})
	l.RideEasy, l.RideTalk, l.RideOff = models.Known(easy), models.Known(talk), models.Known(off)
	h.done()
}

func readRamp(g *table, key, what string, k kind[units.Speed], def models.Ramp[units.Speed]) models.Ramp[units.Speed] {
	h := g.group(key, what)
	r := models.Ramp[units.Speed]{
		From:  want(h, "from", k, def.From),
		Full1: want(h, "full_from", k, def.Full1),
		Full2: want(h, "full_to", k, def.Full2),
		To:    want(h, "to", k, def.To),
	}
	rising(h, k, value[units.Speed]{"from", r.From}, value[units.Speed]{"full_from", r.Full1}, value[units.Speed]{"full_to", r.Full2}, value[units.Speed]{"to", r.To})
	h.done()
	return r
}

// pair reads a table of two keys whose values rise.
func pair[T ~float64](g *table, key, what string, k kind[T], k1 string, d1 T, k2 string, d2 T) (T, T) {
	h := g.group(key, what)
	a, b := want(h, k1, k, d1), want(h, k2, k, d2)
	rising(h, k, value[T]{k1, a}, value[T]{k2, b})
	h.done()
	return a, b
}

type value[T ~float64] struct {
	key string
	v   T
}

// rising reports values of a table that don't rise in the order given. Two
// may be equal. It is told at the value that the captain wrote.
func rising[T ~float64](t *table, k kind[T], list ...value[T]) {
	for i := 1; i < len(list); i++ {
		a, b := list[i-1], list[i]
		if !t.ok(a.key, b.key) || a.v <= b.v {
			continue
		}
		if t.has(b.key) {
			t.fail(b.key, "must not be under %s, %s", a.key, k.show(a.v))
		} else {
			t.fail(a.key, "must not be over %s, %s by default", b.key, k.show(b.v))
		}
	}
}

// notUnder reports a never limit that lies under the captain's own limit.
func notUnder[T ~float64](never, own *table, key string, k kind[T], n, o T) {
	if n >= o || !never.ok(key) || !own.ok(key) {
		return
	}
	if never.has(key) {
		never.fail(key, "must not be under %s, %s", own.sub(key), k.show(o))
	} else {
		own.fail(key, "must not be over %s, %s by default", never.sub(key), k.show(n))
	}
}
