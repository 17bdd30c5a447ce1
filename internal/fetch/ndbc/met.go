package ndbc

import (
	"errors"
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// ParseMet reads a file of standard meteorological data: realtime, monthly or
// yearly, of any year since 1970. The observations are in order of time, one
// for each time, without station and provenance. A file without a header or
// without one readable row is an error; less is told as oddities.
func ParseMet(data []byte) ([]models.Observation, []Oddity, error) {
	t, err := parseTable(data)
	if err != nil {
		return nil, nil, err
	}
	out := make([]models.Observation, 0, len(t.rows))
	for _, r := range t.rows {
		out = append(out, t.observation(r))
	}
	out = lastOfEach(out, func(o models.Observation) time.Time { return o.At })
	if len(out) == 0 {
		return nil, t.odd, errors.New("find a readable row: there is none")
	}
	return out, t.odd, nil
}

// observation reads a row of standard meteorological columns.
func (t *table) observation(r row) models.Observation {
	o := models.Observation{
		At:         r.at,
		Wind:       speed(t.number(r, "WSPD")),
		WindFrom:   from(t.number(r, "WDIR")),
		Gust:       speed(t.number(r, "GST")),
		Sea:        height(t.number(r, "WVHT")),
		Period:     t.period(r, "DPD"),
		MeanPeriod: t.period(r, "APD"),
		SeaFrom:    from(t.number(r, "MWD")),
		Pressure:   models.MapOpt(t.number(r, "PRES"), func(v float64) units.Pressure { return units.Pressure(v) * units.Hectopascal }),
		Air:        models.MapOpt(t.number(r, "ATMP"), units.Celsius),
		Water:      models.MapOpt(t.number(r, "WTMP"), units.Celsius),
		Visibility: models.MapOpt(t.number(r, "VIS"), func(v float64) units.Length { return units.Length(v) * units.NauticalMile }),
	}
	if outOfWater(o) {
		t.odd.add("waves of a buoy that seems to be out of the water", r.line)
		dropWaves(&o)
	}
	return o
}

// period reads a period in seconds; there is no period of nothing.
func (t *table) period(r row, name string) models.Opt[float64] {
	p := t.number(r, name)
	if v, ok := p.Get(); ok && v == 0 {
		return models.Unknown[float64]()
	}
	return p
}

// outOfWater recognises a buoy that is ashore or aboard a ship and reports
// that the sea is flat: a height that rounds to zero without a period, or
// hardly any height in a wind that raises a sea. (Seen in the file of 44009
// for February 2013; our inference.)
func outOfWater(o models.Observation) bool {
	h, ok := o.Sea.Get()
	if !ok {
		return false
	}
	return h < 0.05*units.Metre && !o.Period.Known() ||
		h < 0.1*units.Metre && o.Wind.Or(0) > 5*units.MetrePerSecond
}

func dropWaves(o *models.Observation) {
	o.Sea, o.Period, o.MeanPeriod, o.SeaFrom = models.Unknown[units.Length](), models.Unknown[float64](), models.Unknown[float64](), models.Unknown[units.From]()
	o.Swell, o.SwellPeriod, o.SwellFrom = models.Unknown[units.Length](), models.Unknown[float64](), models.Unknown[units.From]()
	o.WindSea, o.SteepnessLabel = models.Unknown[units.Length](), ""
}

func dropWind(o *models.Observation) {
	o.Wind, o.Gust, o.WindFrom = models.Unknown[units.Speed](), models.Unknown[units.Speed](), models.Unknown[units.From]()
	o.Averaging = models.Unknown[time.Duration]()
}

func speed(v models.Opt[float64]) models.Opt[units.Speed] {
	return models.MapOpt(v, func(x float64) units.Speed { return units.Speed(x) * units.MetrePerSecond })
}

func from(v models.Opt[float64]) models.Opt[units.From] {
	return models.MapOpt(v, func(x float64) units.From { return units.From(x) })
}

func height(v models.Opt[float64]) models.Opt[units.Length] {
	return models.MapOpt(v, func(x float64) units.Length { return units.Length(x) * units.Metre })
}

// lastOfEach keeps of values in order of time the last one of each time.
func lastOfEach[T any](vs []T, at func(T) time.Time) []T {
	out := vs[:0]
	for i, v := range vs {
		if i+1 < len(vs) && at(vs[i+1]).Equal(at(v)) {
			continue
		}
		out = append(out, v)
	}
	return slices.Clip(out)
}
