package words

import (
	"encoding/json"
	"fmt"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// CallSchema names the call document.
const CallSchema = "forecastd.call.v1"

type (
	callFile struct {
		Schema         string                    `json:"schema"`
		Demo           bool                      `json:"demo,omitzero"`
		Notice         string                    `json:"notice,omitzero"`
		Made           time.Time                 `json:"made"`
		Date           models.Date               `json:"date"`
		Port           string                    `json:"port"`
		Ground         string                    `json:"ground"`
		Trip           fileTrip                  `json:"trip"`
		Verdict        string                    `json:"verdict"`
		Tactic         models.Tactic             `json:"tactic"`
		Timing         []models.Timing           `json:"timing"`
		Leave          models.Opt[string]        `json:"leave"`
		Back           models.Opt[string]        `json:"back"`
		LeavePart      models.DayPart            `json:"leave_part,omitzero"`
		BackPart       models.DayPart            `json:"back_part,omitzero"`
		Confidence     models.Confidence         `json:"confidence"`
		Agreement      float64                   `json:"agreement"`
		Agreeing       int                       `json:"agreeing"`
		Members        int                       `json:"members"`
		Answers        callAnswers               `json:"answers"`
		Stops          []callStop                `json:"stops,omitempty"`
		CaptainDecides bool                      `json:"captain_decides,omitzero"`
		Hours          []callHour                `json:"hours"`
		Charter        *callCharter              `json:"charter"`
		Warnings       models.Opt[[]fileWarning] `json:"warnings"`
		Stood          []fileWarning             `json:"warnings_stood,omitempty"`
		Texts          []fileText                `json:"texts,omitempty"`
		Overrides      []fileOverride            `json:"overrides"`
		Reasons        []string                  `json:"reasons"`
		WouldChange    []string                  `json:"would_change"`
		Missing        []string                  `json:"missing"`
		Changed        []string                  `json:"changed,omitempty"`
		Cautions       []string                  `json:"cautions"`
		Spread         *callSpread               `json:"spread"`
		Load           []callLoad                `json:"load"`
		Drift          *callDrift                `json:"drift"`
		Bait           []string                  `json:"bait,omitempty"`
		Sun            map[string]string         `json:"sun,omitempty"`
		Tides          []fileTide                `json:"tides,omitempty"`
		Streams        []fileStream              `json:"streams,omitempty"`
		Sources        []callSource              `json:"sources"`
	}
	callAnswers struct {
		Runs   callAnswer `json:"runs"`
		Hours  callAnswer `json:"hours"`
		Tactic callAnswer `json:"tactic"`
	}
	callAnswer struct {
		Share float64           `json:"share"`
		Word  models.Confidence `json:"word"`
		Count int               `json:"count"`
	}
	callStop struct {
		By        string `json:"by"`
		From      string `json:"from"`
		Scenarios []int  `json:"scenarios"`
	}
	callHour struct {
		At           time.Time               `json:"at"`
		Kite         string                  `json:"kite"`
		Sight        string                  `json:"sight"`
		Fish         models.Fish             `json:"fish"`
		Ride         string                  `json:"ride"`
		Closed       models.Opt[string]      `json:"closed"`
		Do           models.Do               `json:"do"`
		Wind         models.Opt[float64]     `json:"wind_kn"`
		WindFrom     models.Opt[float64]     `json:"wind_from_deg"`
		Gust         models.Opt[float64]     `json:"gust_kn"`
		KiteWind     models.Opt[float64]     `json:"kite_wind_kn"`
		Sea          models.Opt[float64]     `json:"sea_ft"`
		Period       models.Opt[float64]     `json:"period_s"`
		Slip         models.Opt[float64]     `json:"slip_kn"`
		KiteName     string                  `json:"kite_name,omitzero"`
		KiteLull     models.Opt[float64]     `json:"kite_lull_kn"`
		KiteGust     models.Opt[float64]     `json:"kite_gust_kn"`
		Profile      string                  `json:"wind_profile,omitzero"`
		SeeTo        models.Opt[float64]     `json:"sight_into_water_ft"`
		Glare        models.Opt[float64]     `json:"glare"`
		Unwell       models.Opt[float64]     `json:"guests_unwell_pct"`
		SunElevation float64                 `json:"sun_elevation_deg"`
		SunAzimuth   float64                 `json:"sun_azimuth_deg"`
		Factors      map[string][]callFactor `json:"factors,omitempty"`
	}
	callFactor struct {
		Name   string  `json:"name"`
		Input  string  `json:"input"`
		Value  float64 `json:"value"`
		Phrase string  `json:"phrase"`
	}
	callCharter struct {
		Actions []models.CharterAction `json:"actions"`
		Start   models.Opt[string]     `json:"start"`
		End     models.Opt[string]     `json:"end"`
		TellBy  models.Opt[time.Time]  `json:"tell_by"`
		Offer   []callOffer            `json:"offer"`
		Message string                 `json:"message"`
	}
	callOffer struct {
		Date models.Date `json:"date"`
		Why  string      `json:"why"`
	}
	callSpread struct {
		Kite      string         `json:"kite"`
		Helium    bool           `json:"helium"`
		Kites     int            `json:"kites"`
		KiteLine  float64        `json:"kite_line_ft"`
		Angle     float64        `json:"angle_deg"`
		Height    float64        `json:"height_ft"`
		Positions []callPosition `json:"positions"`
		Notes     []string       `json:"notes,omitempty"`
	}
	callPosition struct {
		Position string              `json:"position"`
		Side     string              `json:"side"`
		Behind   models.Opt[float64] `json:"behind_ft"`
		Clip     models.Opt[float64] `json:"clip_height_ft"`
		LineOut  models.Opt[float64] `json:"line_out_ft"`
		Line     string              `json:"line"`
		Leader   string              `json:"leader"`
		Lead     string              `json:"lead"`
		Bait     string              `json:"bait"`
	}
	callLoad struct {
		What     string `json:"what"`
		Count    int    `json:"count"`
		Short    int    `json:"short,omitzero"`
		Stow     string `json:"stow"`
		Position string `json:"position"`
	}
	callDrift struct {
		StartDepth float64             `json:"start_depth_ft"`
		Speed      float64             `json:"speed_kn"`
		Toward     float64             `json:"toward_deg"`
		Slip       float64             `json:"slip_kn"`
		Distance   float64             `json:"distance_nmi"`
		Across     models.Opt[float64] `json:"across_band_min"`
		Reset      models.Opt[float64] `json:"reset_every_min"`
		RunBack    models.Opt[float64] `json:"run_back_min"`
		SeaAnchor  bool                `json:"sea_anchor"`
		Track      []callTrack         `json:"track"`
		Notes      []string            `json:"notes,omitempty"`
	}
	callTrack struct {
		At     time.Time `json:"at"`
		East   float64   `json:"east_nmi"`
		North  float64   `json:"north_nmi"`
		Spread float64   `json:"spread_nmi"`
	}
	callSource struct {
		Name   string              `json:"name"`
		Detail string              `json:"detail,omitzero"`
		Age    models.Opt[float64] `json:"age_s"`
	}
)

// JSON writes the call document. Factors are in it only when explain is set.
func (t Teller) JSON(c models.Call, now time.Time, explain bool) ([]byte, error) {
	f := callFile{
		Schema: CallSchema, Demo: c.Demo, Made: c.Made, Date: c.Date, Port: c.Port.Name, Ground: c.Ground.Name,
		Verdict: t.Verdict(c), Tactic: c.Tactic, Timing: c.Timing,
		Confidence: c.Confidence, Agreement: tidy(c.Agreement), Agreeing: c.Agreeing, Members: c.Members, CaptainDecides: c.CaptainDecides,
		Answers: callAnswers{answerOf(c.Answers.Runs), answerOf(c.Answers.Hours), answerOf(c.Answers.Tactic)},
		Reasons: orEmpty(t.sayAll(c.Reasons)), WouldChange: orEmpty(t.sayAll(c.WouldChange)), Missing: orEmpty(t.sayAll(c.Missing)),
		Changed: t.sayAll(c.Changed), Cautions: orEmpty(t.sayAll(c.Cautions)), Load: []callLoad{}, Hours: []callHour{}, Sources: []callSource{}, Overrides: []fileOverride{},
		Sun: map[string]string{},
	}
	if leave, back, going := c.Times(); going {
		f.Leave, f.LeavePart = t.clockAndPart(c, leave)
		f.Back, f.BackPart = t.clockAndPart(c, back)
	}
	if c.Demo {
		f.Notice = t.demoNotice(true)
	}
	// The outlook file's own writers tell warnings, texts, tides and streams.
	o := fileOf(models.Outlook{Trip: c.Trip, Warnings: c.Warnings, Stood: c.Stood, Texts: c.Texts, Tides: c.Tides, Streams: c.Streams, Overrides: c.Overrides})
	f.Trip, f.Warnings, f.Stood, f.Texts, f.Tides, f.Streams, f.Overrides = o.Trip, o.Warnings, o.Stood, o.Texts, o.Tides, o.Streams, o.Overrides
	for _, h := range c.Hours {
		f.Hours = append(f.Hours, t.callHour(h, explain))
	}
	if ch, ok := c.Charter.Get(); ok {
		f.Charter = t.callCharter(c, ch)
	}
	if s, ok := c.Spread.Get(); ok {
		f.Spread = t.callSpread(s)
	}
	if d, ok := c.Drift.Get(); ok {
		f.Drift = t.callDrift(d)
	}
	if b, ok := c.Bait.Get(); ok {
		f.Bait = t.sayAll(b.Notes)
	}
	for _, x := range c.Stops {
		f.Stops = append(f.Stops, callStop{By: t.Say(x.By), From: t.stopFrom(c, x), Scenarios: x.Courses})
	}
	for _, l := range c.Load {
		f.Load = append(f.Load, callLoad{What: l.What, Count: l.Count, Short: l.Short, Stow: l.Stow, Position: l.Position})
	}
	for name, at := range map[string]models.Opt[time.Time]{"civil_dawn": c.Sun.CivilDawn, "rise": c.Sun.Rise, "set": c.Sun.Set, "civil_dusk": c.Sun.CivilDusk} {
		if v, ok := at.Get(); ok {
			f.Sun[name] = v.UTC().Format(time.RFC3339)
		}
	}
	for _, s := range c.Sources {
		src := callSource{Name: s.Source, Detail: s.Detail}
		at := s.Issued
		if at.IsZero() {
			at = s.Fetched
		}
		if !at.IsZero() {
			src.Age = models.Known(now.Sub(at).Round(time.Second).Seconds())
		}
		f.Sources = append(f.Sources, src)
	}
	b, err := json.MarshalIndent(f, "", " ")
	if err != nil {
		return nil, fmt.Errorf("write call: %w", err)
	}
	return append(b, '\n'), nil
}

func answerOf(a models.Answer) callAnswer {
	return callAnswer{Share: tidy(a.Share), Word: a.Word, Count: a.Courses}
}

func (t Teller) callHour(h models.HourCall, explain bool) callHour {
	c := h.Conditions
	f := callHour{
		At: h.At, Kite: h.Kite.String(), Sight: h.Sight.String(), Fish: h.Fish, Ride: h.Ride.String(), Closed: textOrNull(t.Say(h.Closed)), Do: h.Do,
		Wind: inKnots(c.Wind), WindFrom: inDegrees(c.WindFrom), Gust: inKnots(c.Gust), KiteWind: inKnots(c.KiteWind),
		Sea: inFeet(c.LocalSea.Else(c.Sea)), Period: c.Period, Slip: inKnots(c.Slip), KiteName: c.KiteName, KiteLull: inKnots(c.KiteLull), KiteGust: inKnots(c.KiteGust), Profile: c.ProfileMethod,
		SeeTo: inFeet(c.SightDistance), Glare: c.Glare, Unwell: models.MapOpt(c.Unwell, func(p models.Percent) float64 { return tidy(float64(p)) }),
		SunElevation: tidy(c.SunElevation), SunAzimuth: tidy(c.SunAzimuth),
	}
	if explain {
		f.Factors = map[string][]callFactor{}
		for lane, fs := range h.Factors {
			for _, x := range fs {
				f.Factors[lane] = append(f.Factors[lane], callFactor{Name: x.Name, Input: t.Say(x.Input), Value: tidy(x.Value), Phrase: t.Say(x.Phrase)})
			}
		}
	}
	return f
}

// clockAndPart is a time as told, as a clock time where it is one, and past
// the reach of clock times as the part of the day.
func (t Teller) clockAndPart(c models.Call, told any) (clock models.Opt[string], part models.DayPart) {
	switch v := told.(type) {
	case time.Time:
		if clock = models.Known(t.clock(v)); c.BeyondHours() {
			part = models.DayPartAt(v, t.zone)
		}
	case models.DayPart:
		part = v
	}
	return clock, part
}

func (t Teller) stopFrom(c models.Call, s models.Stop) string {
	clock, part := t.clockAndPart(c, t.stopAt(c, s))
	return clock.Or(string(part))
}

func (t Teller) callCharter(c models.Call, ch models.CharterCall) *callCharter {
	proposed := func(at models.Opt[time.Time], booked models.Clock) models.Opt[string] {
		v, ok := at.Get()
		if ok && c.BeyondHours() {
			clock, _ := t.clockAndPart(c, models.Told(v, booked.On(c.Date, t.zone), t.zone))
			return clock
		}
		return models.MapOpt(at, t.clock)
	}
	f := &callCharter{Actions: ch.Actions, Start: proposed(ch.Start, c.Trip.Start), End: proposed(ch.End, c.Trip.End), TellBy: ch.TellBy, Offer: []callOffer{}, Message: t.Message(ch)}
	for _, o := range ch.Offer {
		f.Offer = append(f.Offer, callOffer{Date: o.Date, Why: t.Say(o.Why)})
	}
	return f
}

func (t Teller) callSpread(s models.Spread) *callSpread {
	f := &callSpread{Kite: s.Kite, Helium: s.Helium, Kites: s.Kites, KiteLine: tidy(s.KiteLine.Feet()), Angle: tidy(s.Angle), Height: tidy(s.Height.Feet()), Positions: []callPosition{}, Notes: t.sayAll(s.Notes)}
	for _, b := range s.Positions {
		f.Positions = append(f.Positions, callPosition{
			Position: b.Position, Side: b.Side, Behind: inFeet(b.Behind), Clip: inFeet(b.ClipHeight), LineOut: inFeet(b.LineOut),
			Line: b.Line, Leader: t.leader(b), Lead: b.Lead, Bait: b.Bait,
		})
	}
	return f
}

func (t Teller) callDrift(d models.Drift) *callDrift {
	minutes := func(x time.Duration) float64 { return tidy(x.Minutes()) }
	nmi := func(l units.Length) float64 { return tidy(l.NauticalMiles()) }
	f := &callDrift{
		StartDepth: tidy(d.StartDepth.Feet()), Speed: tidy(d.Speed.Knots()), Toward: tidy(d.Toward.Degrees()), Slip: tidy(d.Slip.Knots()), Distance: nmi(d.Distance),
		Across: models.MapOpt(d.AcrossBand, minutes), Reset: models.MapOpt(d.ResetEvery, minutes), RunBack: models.MapOpt(d.RunBack, minutes),
		SeaAnchor: d.SeaAnchor, Track: []callTrack{}, Notes: t.sayAll(d.Notes),
	}
	for _, p := range d.Track {
		f.Track = append(f.Track, callTrack{At: p.At, East: nmi(p.East), North: nmi(p.North), Spread: nmi(p.SpreadRadius)})
	}
	return f
}

func orEmpty(s []string) []string {
	if s == nil {
		return []string{}
	}
	return s
}
