package ndbc

import (
	"errors"
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Spectrum is one row of a spectral summary: the sea split into swell and
// wind sea.
type Spectrum struct {
	At                         time.Time
	Sea, Swell, WindSea        models.Opt[units.Length]
	SwellPeriod, WindSeaPeriod models.Opt[float64] // seconds
	MeanPeriod                 models.Opt[float64] // seconds
	SwellFrom, WindSeaFrom     models.Opt[units.From]
	SeaFrom                    models.Opt[units.From]
	// Steepness is the station's word, empty where it gives none.
	Steepness string
}

// ParseSpec reads a spectral summary (.spec) as ParseMet does standard data.
func ParseSpec(data []byte) ([]Spectrum, []Oddity, error) {
	t, err := parseTable(data)
	if err != nil {
		return nil, nil, err
	}
	if len(t.rows) > 0 {
		if _, ok := t.rows[0].head.index["SwH"]; !ok {
			return nil, t.odd, errors.New("find the swell height (SwH): the file has no such column")
		}
	}
	var out []Spectrum
	for _, r := range t.rows {
		s := Spectrum{
			At:            r.at,
			Sea:           height(t.number(r, "WVHT")),
			Swell:         height(t.number(r, "SwH")),
			WindSea:       height(t.number(r, "WWH")),
			SwellPeriod:   t.period(r, "SwP"),
			WindSeaPeriod: t.period(r, "WWP"),
			MeanPeriod:    t.period(r, "APD"),
			SwellFrom:     t.point(r, "SwD"),
			WindSeaFrom:   t.point(r, "WWD"),
			SeaFrom:       from(t.number(r, "MWD")),
		}
		switch label := r.head.text(r.fields, "STEEPNESS"); label {
		case "VERY_STEEP", "STEEP", "AVERAGE", "SWELL":
			s.Steepness = label
		case "N/A", "MM", "":
		default:
			t.odd.add("unknown word for the steepness", r.line)
		}
		out = append(out, s)
	}
	out = lastOfEach(out, func(s Spectrum) time.Time { return s.At })
	if len(out) == 0 {
		return nil, t.odd, errors.New("find a readable row: there is none")
	}
	return out, t.odd, nil
}

// point reads one of the sixteen points of the compass. The unit line says
// degrees for some of these columns, which is wrong.
func (t *table) point(r row, name string) models.Opt[units.From] {
	s := r.head.text(r.fields, name)
	if s == "" || s == "MM" || s == "-99" || s == "NO" {
		return models.Unknown[units.From]()
	}
	f, ok := units.FromPoint(s)
	if !ok {
		t.odd.add("unreadable "+name, r.line)
		return models.Unknown[units.From]()
	}
	return models.Known(f)
}

// Fuse joins standard observations and spectral summaries of one station,
// both in order of time. A buoy tells its wind every ten minutes and its
// waves once an hour; some of the wave values come one row earlier than the
// others, and the summary stamps the same sample with the earlier time. In the result each
// sample of waves stands once, with its split and with the peak period to a
// decimal; a summary without a fitting row stands on its own.
func Fuse(met []models.Observation, spec []Spectrum) []models.Observation {
	out := make([]models.Observation, 0, len(met)+len(spec))
	out = append(out, met...)
	byTime := map[time.Time]int{}
	for i, o := range out {
		byTime[o.At] = i
	}
	for i := range out {
		later, ok := byTime[out[i].At.Add(10*time.Minute)]
		if ok && sameSample(out[i], out[later]) {
			full := &out[later]
			full.Period = full.Period.Else(out[i].Period)
			full.MeanPeriod = full.MeanPeriod.Else(out[i].MeanPeriod)
			full.SeaFrom = full.SeaFrom.Else(out[i].SeaFrom)
			dropWaves(&out[i])
		}
	}
	specAt := map[time.Time]int{}
	for i, s := range spec {
		specAt[s.At] = i
	}
	used := make([]bool, len(spec))
	for i := range out {
		if !out[i].Sea.Known() {
			continue
		}
		for _, early := range []time.Duration{10 * time.Minute, 0, 20 * time.Minute} {
			k, ok := specAt[out[i].At.Add(-early)]
			if ok && !used[k] && near(out[i].Sea, spec[k].Sea) {
				used[k] = true
				split(&out[i], spec[k])
				break
			}
		}
	}
	for k, s := range spec {
		// A height that rounds to zero, and nothing to confirm it, is no sea.
		if used[k] || s.Sea.Or(0) < 0.05*units.Metre || waveRowNear(out[:len(met)], byTime, s.At) {
			continue
		}
		o := models.Observation{At: s.At}
		i, ok := byTime[s.At]
		if ok {
			o = out[i]
		}
		o.Sea, o.MeanPeriod, o.SeaFrom = s.Sea, s.MeanPeriod, s.SeaFrom
		split(&o, s)
		if ok {
			out[i] = o
		} else {
			out = append(out, o)
		}
	}
	sortObservations(out)
	return out
}

// sameSample tells whether two rows, ten minutes apart, share one sample of
// waves: the same height, and only one of them has the peak period.
func sameSample(a, b models.Observation) bool {
	return a.Sea.Known() && a.Sea == b.Sea && a.Period.Known() != b.Period.Known()
}

// near tells whether two heights are the same but for rounding.
func near(a, b models.Opt[units.Length]) bool {
	x, okX := a.Get()
	y, okY := b.Get()
	return okX && okY && math.Abs(x.Metres()-y.Metres()) < 0.15
}

// waveRowNear tells whether some row within 20 minutes has waves of its own,
// so that a summary that does not fit it is not another sample.
func waveRowNear(met []models.Observation, byTime map[time.Time]int, at time.Time) bool {
	for m := -20; m <= 20; m++ {
		if i, ok := byTime[at.Add(time.Duration(m)*time.Minute)]; ok && met[i].Sea.Known() {
			return true
		}
	}
	return false
}

// split gives an observation the parts of its sea.
func split(o *models.Observation, s Spectrum) {
	o.Swell, o.SwellPeriod, o.SwellFrom = s.Swell, s.SwellPeriod, s.SwellFrom
	o.WindSea, o.SteepnessLabel = s.WindSea, s.Steepness
	// The peak period in whole seconds belongs to the part whose period
	// rounds to it.
	whole, ok := o.Period.Get()
	if !ok || whole != math.Trunc(whole) {
		return
	}
	best := 0.5 + 1e-9
	for _, p := range []models.Opt[float64]{s.SwellPeriod, s.WindSeaPeriod} {
		if v, ok := p.Get(); ok && math.Abs(v-whole) <= best {
			best = math.Abs(v - whole)
			o.Period = models.Known(v)
		}
	}
}
