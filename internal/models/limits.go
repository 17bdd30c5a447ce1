package models

import (
	"time"

	"forecastd/internal/models/units"
)

// Ramp is a response with named knots: nothing at From, full between Full1
// and Full2, nothing again at To.
type Ramp[T ~float64] struct{ From, Full1, Full2, To T }

// At returns the response from 0 to 1, straight between the knots.
func (r Ramp[T]) At(x T) float64 {
	switch {
	case x <= r.From || x >= r.To:
		return 0
	case x < r.Full1:
		return float64((x - r.From) / (r.Full1 - r.From))
	case x <= r.Full2:
		return 1
	}
	return float64((r.To - x) / (r.To - r.Full2))
}

// Limits are the captain's own limits, all of them his to change. The
// defaults are common practice, no source.
type Limits struct {
	// KiteWind is the sustained wind that flies kites.
	KiteWind Ramp[units.Speed]
	// HeliumSuggest and HeliumNeed are sustained winds under which helium is
	// suggested and needed.
	HeliumSuggest, HeliumNeed units.Speed
	// GustSpread is gust minus mean: fine up to the first, marginal up to
	// the second, poor up to the third, no kites above.
	GustFine, GustMarginal, GustPoor units.Speed
	// DirectionFine and DirectionPoor bound how far the direction ranges in
	// an hour, degrees.
	DirectionFine, DirectionPoor float64
	// RainLowers and RainStops are chances of steady rain, percent.
	RainLowers, RainStops float64
	// ThunderWarn and ThunderStop are chances of thunder, percent.
	ThunderWarn, ThunderStop float64
	// OwnWind, OwnGust and OwnSea count as a small craft advisory, at any
	// lead, warnings feed up or down.
	OwnWind, OwnGust units.Speed
	OwnSea           units.Length
	// NeverWind, NeverGust and NeverSea close an hour to a charter when the
	// share NeverMembers of the members reaches one of them.
	NeverWind, NeverGust units.Speed
	NeverSea             units.Length
	NeverMembers         float64
	// StayMembers is the share of members that must keep the trip clear of
	// the never limits for a charter to go.
	StayMembers float64
	// Courses is how many courses are drawn around a forecast.
	Courses int
	// CloseShare is the share of the courses that closes an hour, GoShare the
	// share that must let a trip run for it to be called on, PlainShare the
	// share under which guests are told of the doubt.
	CloseShare, GoShare, PlainShare float64
	// TailingWind is the wind that brings fish up to tail.
	TailingWind Ramp[units.Speed]
	// OppositionUseful and OppositionStrong are cosines of wind-from minus
	// current-toward.
	OppositionUseful, OppositionStrong float64
	// TailCurrentUseful and TailCurrentStrong are currents that make tails.
	TailCurrentUseful, TailCurrentStrong units.Speed
	// SunStart and SunFull are sun elevations for sight casting, degrees.
	SunStart, SunFull float64
	// CloudFull and CloudNil bound the cloud for sight casting, percent.
	CloudFull, CloudNil float64
	// Glare halves sight with the sun within GlareAzimuth of the look
	// direction and under GlareElevation, degrees.
	GlareAzimuth, GlareElevation float64
	// RideEasy, RideTalk and RideOff are the captain's table for this boat,
	// where he gives his own; otherwise the table by boat and party rules.
	RideEasy, RideTalk, RideOff Opt[units.Length]
	// FogWait and FogStay are visibilities: under the first wait, under the
	// second nobody leaves; a fog that outlasts half the trip keeps it in.
	FogWait, FogStay units.Length
	// InletSector is how far from the shore normal a sea counts as onshore,
	// degrees. InletWait, InletStay and InletSteep judge the sea in the
	// mouth after the ebb; InletUnknown is the sea that shuts it where the
	// ebb is unknown.
	InletSector                        float64
	InletWait, InletStay, InletUnknown units.Length
	InletSteep                         float64
	// OfficialMargin and OwnMargin are how long before an official product's
	// onset, and before any other closed hour, the boat is back inside.
	OfficialMargin, OwnMargin time.Duration
	// DriftGood1..DriftTooFast judge the drift through the water.
	DriftSlow, DriftGood1, DriftGood2, DriftUsable, DriftTooFast units.Speed
	// SetUp is the time from reaching the ground to baits in the water, and
	// Turnaround the time at the dock between two trips.
	SetUp, Turnaround time.Duration
	// Earliest is how much before the booked start guests can be asked to
	// come; Latest how much after.
	Earliest, Latest time.Duration
	// ShortestTrip is the least fishing worth leaving the dock for.
	ShortestTrip time.Duration
	// FogClear is how long the boat waits after the forecast visibility has
	// opened: fog seldom lifts by the clock.
	FogClear time.Duration
	// InletSteepFrom is the sea in the mouth from which InletSteep counts: a
	// chop is steep and harmless.
	InletSteepFrom units.Length
	// GustTop is the gust at 10 m that kites stand: nothing lost up to the
	// first, none flown from the second on.
	GustTopFine, GustTopNone units.Speed
	// GradePoor, GradeFair and GradeGood are the worths of an hour, 0 to 1,
	// from which it is called so.
	GradePoor, GradeFair, GradeGood float64
	Weights                         Weights
}

// Weights are what the plan of a day trades against one another, in hours of
// perfect fishing.
type Weights struct {
	// WindInKites and SetKites are what a change to or from kites takes.
	WindInKites, SetKites time.Duration
	// Change is the trouble of any change of tactic.
	Change float64
	// Cut is what each booked hour not fished costs beside its fishing.
	Cut float64
	// Earlier is what asking guests to come half an hour earlier costs; it
	// grows with the square. Later is what each hour of waiting costs.
	Earlier, Later float64
	// RoughHour is what an hour of a rough ride costs a mixed party; an
	// experienced one minds it by two thirds, a family twice. An hour that
	// is ok costs a fifth of it.
	RoughHour float64
	// WorthLeaving is the mean worth that the fishing must reach over some
	// stretch of at least ShortestTrip; where it does not, the boat stays in
	// for want of anything to fish for.
	WorthLeaving float64
	// Agree is the share of a course's best tactic that the call's must give,
	// to be the right one in it.
	Agree float64
	// OneTactic is the share of the fishing from which a day is named after
	// one tactic.
	OneTactic float64
}

// DefaultLimits returns the starting limits: common practice, no source.
func DefaultLimits() Limits {
	const kn, ft = units.Knot, units.Foot
	return Limits{
		KiteWind:      Ramp[units.Speed]{4 * kn, 9 * kn, 18 * kn, 30 * kn},
		HeliumSuggest: 8 * kn, HeliumNeed: 5 * kn,
		GustFine: 5 * kn, GustMarginal: 8 * kn, GustPoor: 12 * kn,
		DirectionFine: 30, DirectionPoor: 60,
		RainLowers: 30, RainStops: 60,
		ThunderWarn: 20, ThunderStop: 40,
		OwnWind: 20 * kn, OwnGust: 28 * kn, OwnSea: 7 * ft,
		NeverWind: 25 * kn, NeverGust: 34 * kn, NeverSea: 8 * ft,
		NeverMembers: 0.2, StayMembers: 0.8, Courses: 64, CloseShare: 0.5, GoShare: 0.45, PlainShare: 0.7,
		TailingWind:      Ramp[units.Speed]{10 * kn, 14 * kn, 20 * kn, 25 * kn},
		OppositionUseful: 0.6, OppositionStrong: 0.85,
		TailCurrentUseful: 1.2 * kn, TailCurrentStrong: 2 * kn,
		SunStart: 25, SunFull: 35,
		CloudFull: 30, CloudNil: 70,
		GlareAzimuth: 45, GlareElevation: 45,
		FogWait: 1 * units.NauticalMile, FogStay: 0.5 * units.NauticalMile,
		InletSector: 60, InletWait: 5 * ft, InletStay: 6.5 * ft, InletUnknown: 5 * ft, InletSteep: 0.06,
		OfficialMargin: 90 * time.Minute, OwnMargin: 60 * time.Minute,
		DriftSlow: 0.3 * kn, DriftGood1: 0.5 * kn, DriftGood2: 1.5 * kn, DriftUsable: 2 * kn, DriftTooFast: 2.5 * kn,
		SetUp: 35 * time.Minute, Turnaround: 60 * time.Minute,
		Earliest: 60 * time.Minute, Latest: 180 * time.Minute,
		ShortestTrip: 180 * time.Minute,
		FogClear:     30 * time.Minute, InletSteepFrom: 3 * ft,
		GustTopFine: 25 * kn, GustTopNone: 32.5 * kn,
		GradePoor: 0.10, GradeFair: 0.42, GradeGood: 0.68,
		Weights: Weights{
			WindInKites: 15 * time.Minute, SetKites: 35 * time.Minute, Change: 0.03,
			Cut: 0.1, Earlier: 0.18, Later: 0.7, RoughHour: 0.15,
			WorthLeaving: 0.05, Agree: 0.75, OneTactic: 0.7,
		},
	}
}
