package scoring

import (
	"math"
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/drift"
	"forecastd/internal/models/units"
)

// DriftFrom drifts the boat of a call from a start of the captain's own: so
// far east and north of the ground's place, from an instant on, for a while.
// It answers unknown where the call does not know wind and current of that
// hour. Points of the track are told from the ground's place. StartDepth is
// the ground's depth carried along its slope, 0 where no slope is known; at
// the start of a track Speed and Toward are of its first hour.
func DriftFrom(c models.Call, east, north units.Length, start time.Time, lasts time.Duration) models.Opt[models.Drift] {
	at := func(t time.Time) (models.Conditions, bool) {
		i := slices.IndexFunc(c.Hours, func(h models.HourCall) bool { return !t.Before(h.At) && t.Before(h.At.Add(time.Hour)) })
		if i < 0 {
			return models.Conditions{}, false
		}
		return c.Hours[i].Conditions, true
	}
	first, ok := at(start)
	speed, moves := first.DriftSpeed.Get()
	if !ok || !moves {
		return models.Unknown[models.Drift]()
	}
	var in []drift.Input
	for t := start; t.Before(start.Add(lasts)); t = t.Add(trackEvery) {
		h, ok := at(t)
		if !ok {
			break
		}
		x := drift.InputOf(h.Hour)
		x.At = t
		in = append(in, x)
	}
	d := models.Drift{Speed: speed, Toward: first.DriftToward.Or(0), Slip: first.Slip.Or(0)}
	t := drift.Run(drift.CraftFor(c.Boat.Kind, c.Boat.Length), in, false)
	for _, p := range t.Points {
		d.Track = append(d.Track, models.DriftPoint{At: p.At, East: east + p.East, North: north + p.North, SpreadRadius: p.Spread.Radius()})
	}
	d.Distance = t.Distance
	d.RunBack = drift.RunBack(t.Distance, c.Boat.Cruise.Or(usualCruise))
	g := c.Ground
	slope, ok := g.Slope.Get()
	if !ok {
		return models.Known(d)
	}
	out := units.Vector{East: units.Speed(east), North: units.Speed(north)}.Along(c.Port.ShoreNormal) // metres seaward
	d.StartDepth = max(g.Depth+units.Length(slope*float64(out)), 0)
	if shallow, deep := g.Shallow.Or(0), g.Deep.Or(0); deep > shallow {
		cross := drift.CrossBand(units.FlowVector(speed, d.Toward), drift.Band{Shallow: shallow, Deep: deep, Slope: slope, Offshore: c.Port.ShoreNormal})
		d.AcrossBand = leftOfBand(cross, d.StartDepth, shallow, deep, slope)
	}
	return models.Known(d)
}

// leftOfBand is how long a drift stays over the depth band from a depth in it.
func leftOfBand(cross drift.Crossing, depth, shallow, deep units.Length, slope float64) models.Opt[time.Duration] {
	if !cross.Across.Known() || depth < shallow || depth > deep || slope <= 0 {
		return models.Unknown[time.Duration]()
	}
	far := deep - depth
	if cross.Offshore < 0 {
		far = depth - shallow
	}
	seconds := float64(far) / slope / math.Abs(float64(cross.Offshore))
	return models.Known(time.Duration(seconds * float64(time.Second)))
}
