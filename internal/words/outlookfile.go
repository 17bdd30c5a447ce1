package words

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// OutlookSchema names the outlook file.
const OutlookSchema = "forecastd.outlook.v1"

// The file's own types: the unit stands in every key.
type (
	outlookFile struct {
		Schema    string                    `json:"schema"`
		Demo      bool                      `json:"demo,omitzero"`
		Made      time.Time                 `json:"made"`
		Date      models.Date               `json:"date"`
		Port      filePort                  `json:"port"`
		Ground    fileGround                `json:"ground"`
		Boat      fileBoat                  `json:"boat"`
		Kites     []fileKite                `json:"kites,omitempty"`
		Trip      fileTrip                  `json:"trip"`
		Reports   fileReports               `json:"reports"`
		Hours     []fileHour                `json:"hours"`
		Members   [][]fileHour              `json:"members,omitempty"`
		Warnings  models.Opt[[]fileWarning] `json:"warnings"`
		Stood     []fileWarning             `json:"warnings_stood,omitempty"`
		Overrides []fileOverride            `json:"overrides"`
		Texts     []fileText                `json:"texts,omitempty"`
		Tides     []fileTide                `json:"tides,omitempty"`
		Streams   []fileStream              `json:"streams,omitempty"`
		Sources   []fileSource              `json:"sources,omitempty"`
		Missing   []fileGap                 `json:"missing,omitempty"`
		History   int                       `json:"history_days,omitzero"`
	}
	filePort struct {
		Name        string              `json:"name"`
		Lat         float64             `json:"lat"`
		Lon         float64             `json:"lon"`
		TimeZone    string              `json:"time_zone"`
		ShoreNormal float64             `json:"shore_normal_deg"`
		InletDepth  models.Opt[float64] `json:"inlet_depth_ft,omitzero"`
	}
	fileGround struct {
		Name    string              `json:"name"`
		Lat     float64             `json:"lat"`
		Lon     float64             `json:"lon"`
		Depth   models.Opt[float64] `json:"depth_ft"`
		Run     models.Opt[float64] `json:"run_min"`
		Shallow models.Opt[float64] `json:"shallow_ft,omitzero"`
		Deep    models.Opt[float64] `json:"deep_ft,omitzero"`
		Slope   models.Opt[float64] `json:"slope,omitzero"`
	}
	fileBoat struct {
		Name       string              `json:"name,omitzero"`
		Kind       string              `json:"kind"`
		Length     float64             `json:"length_ft"`
		Tower      models.Opt[float64] `json:"tower_ft"`
		Helium     models.Opt[bool]    `json:"helium_aboard"`
		Crew       models.Opt[int]     `json:"crew"`
		Cruise     models.Opt[float64] `json:"cruise_kn,omitzero"`
		SeaAnchor  bool                `json:"sea_anchor,omitzero"`
		Passengers models.Opt[int]     `json:"passengers_allowed,omitzero"`
		FuelBurn   models.Opt[float64] `json:"fuel_l_per_h,omitzero"`
		Fuel       models.Opt[float64] `json:"fuel_l,omitzero"`
	}
	fileKite struct {
		Name   string              `json:"name"`
		Area   models.Opt[float64] `json:"area_m2,omitzero"`
		Aspect models.Opt[float64] `json:"aspect,omitzero"`
		Mass   models.Opt[float64] `json:"mass_g,omitzero"`
		Min    models.Opt[float64] `json:"min_kn,omitzero"`
		Max    models.Opt[float64] `json:"max_kn,omitzero"`
		Line   models.Opt[float64] `json:"line_n,omitzero"`
	}
	fileTrip struct {
		Kind     string                   `json:"kind"`
		Party    string                   `json:"party"`
		Start    models.Clock             `json:"start"`
		End      models.Clock             `json:"end"`
		LinesIn  models.Opt[models.Clock] `json:"lines_in"`
		LinesOut models.Opt[models.Clock] `json:"lines_out"`
		ForHire  models.Opt[bool]         `json:"passengers_for_hire"`
		Guests   models.Opt[int]          `json:"guests,omitzero"`
	}
	fileReports struct {
		EdgeInReach models.Opt[bool]         `json:"edge_in_reach"`
		EdgeDepth   models.Opt[float64]      `json:"edge_depth_ft"`
		Water       models.Opt[string]       `json:"water"`
		FishOnTop   models.Opt[string]       `json:"fish_on_top_seen"`
		Showering   models.Opt[bool]         `json:"bait_showering"`
		Season      models.Opt[string]       `json:"season"`
		InletHazard models.Opt[models.Clock] `json:"inlet_hazard_from"`
	}
	fileHour struct {
		At              time.Time           `json:"at"`
		Wind            models.Opt[float64] `json:"wind_kn"`
		WindFrom        models.Opt[float64] `json:"wind_from_deg"`
		Gust            models.Opt[float64] `json:"gust_kn"`
		DirectionSpread models.Opt[float64] `json:"direction_spread_deg"`
		Sea             models.Opt[float64] `json:"sea_ft"`
		Period          models.Opt[float64] `json:"period_s"`
		SeaFrom         models.Opt[float64] `json:"sea_from_deg"`
		SeaIncludes     models.Opt[bool]    `json:"sea_includes_current"`
		Swell           models.Opt[float64] `json:"swell_ft"`
		SwellPeriod     models.Opt[float64] `json:"swell_period_s"`
		SwellFrom       models.Opt[float64] `json:"swell_from_deg"`
		InletCurrent    models.Opt[float64] `json:"inlet_current_kn"`
		Current         models.Opt[float64] `json:"current_kn"`
		CurrentToward   models.Opt[float64] `json:"current_toward_deg"`
		Cloud           models.Opt[float64] `json:"cloud_pct"`
		Rain            models.Opt[float64] `json:"rain_pct"`
		Thunder         models.Opt[float64] `json:"thunder_pct"`
		Visibility      models.Opt[float64] `json:"visibility_nmi"`
		Air             models.Opt[float64] `json:"air_f"`
		Water           models.Opt[float64] `json:"sea_f"`
	}
	fileWarning struct {
		Event       string                `json:"event"`
		VTEC        models.Opt[string]    `json:"vtec"`
		Zone        models.Opt[string]    `json:"zone"`
		ZoneName    string                `json:"zone_name,omitzero"`
		Office      string                `json:"office,omitzero"`
		Issued      time.Time             `json:"issued,omitzero"`
		Onset       time.Time             `json:"onset"`
		Ends        models.Opt[time.Time] `json:"ends"`
		Headline    string                `json:"headline,omitzero"`
		Text        string                `json:"text,omitzero"`
		Instruction string                `json:"instruction,omitzero"`
		URL         string                `json:"url,omitzero"`
	}
	fileOverride struct {
		What string `json:"what"`
		Why  string `json:"why"`
	}
	fileText struct {
		Zone       string                `json:"zone"`
		Name       string                `json:"name,omitzero"`
		Office     string                `json:"office,omitzero"`
		Issued     time.Time             `json:"issued,omitzero"`
		Expires    models.Opt[time.Time] `json:"expires,omitzero"`
		Headlines  []string              `json:"headlines,omitempty"`
		Body       string                `json:"body,omitzero"`
		StreamEdge string                `json:"stream_edge,omitzero"`
	}
	fileTide struct {
		At     time.Time `json:"at"`
		Kind   string    `json:"kind"`
		Height float64   `json:"height_ft"`
		Datum  string    `json:"datum,omitzero"`
	}
	fileStream struct {
		At     time.Time           `json:"at"`
		Kind   string              `json:"kind"`
		Speed  float64             `json:"speed_kn"`
		Toward models.Opt[float64] `json:"toward_deg,omitzero"`
	}
	fileSource struct {
		Name    string    `json:"name"`
		Detail  string    `json:"detail,omitzero"`
		Issued  time.Time `json:"issued,omitzero"`
		Fetched time.Time `json:"fetched,omitzero"`
	}
	fileGap struct {
		What string `json:"what"`
		Why  string `json:"why"`
	}
)

// ReadOutlook reads an outlook file. Unknown keys are errors; null or absent
// is unknown. Its errors tell what to mend.
func ReadOutlook(b []byte) (models.Outlook, error) {
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	var f outlookFile
	if err := dec.Decode(&f); err != nil {
		return models.Outlook{}, fmt.Errorf("read outlook file: %w", locate(b, err))
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return models.Outlook{}, errors.New("read outlook file: there is more after the closing brace: keep one outlook a file")
	}
	plainFile(&f)
	return f.outlook()
}

// WriteOutlook writes an outlook file that ReadOutlook reads back the same.
func WriteOutlook(o models.Outlook) ([]byte, error) {
	b, err := json.MarshalIndent(fileOf(o), "", " ")
	if err != nil {
		return nil, fmt.Errorf("write outlook file: %w", err)
	}
	return append(b, '\n'), nil
}

func (f outlookFile) outlook() (models.Outlook, error) {
	var o models.Outlook
	if f.Schema != OutlookSchema {
		return o, fmt.Errorf("read outlook file: schema is %q: this program reads %q", f.Schema, OutlookSchema)
	}
	var errs []error
	bad := func(format string, args ...any) { errs = append(errs, fmt.Errorf(format, args...)) }
	if f.Made.IsZero() {
		bad("made: missing: give the time the outlook was made, as 2027-01-18T22:00:00Z")
	}
	if f.Date == (models.Date{}) {
		bad("date: missing: give the day called, as 2027-01-19")
	}
	zone, err := time.LoadLocation(f.Port.TimeZone)
	if err != nil || f.Port.TimeZone == "" {
		bad("port.time_zone: %q is no IANA time zone: write one like America/New_York", f.Port.TimeZone)
		zone = time.UTC
	}
	port := models.Position{Lat: f.Port.Lat, Lon: f.Port.Lon}
	ground := models.Position{Lat: f.Ground.Lat, Lon: f.Ground.Lon}
	if !port.Valid() || !ground.Valid() {
		bad("port or ground: latitude must lie within ±90 and longitude within ±360")
	}
	if len(f.Hours) == 0 {
		bad("hours: none: give at least the hours of the trip")
	}
	kind := models.BoatKind(f.Boat.Kind)
	if kind != models.CenterConsole && kind != models.Sportfish {
		bad("boat.kind: %q: use one of %q", f.Boat.Kind, models.BoatKinds())
	}
	if !(f.Boat.Length > 0 && f.Boat.Length < 400) {
		bad("boat.length_ft: %v: give the boat's length in feet", f.Boat.Length)
	}
	oneOf(bad, "trip.kind", f.Trip.Kind, models.Charter, models.Tournament, models.OwnTrip)
	oneOf(bad, "trip.party", f.Trip.Party, models.Experienced, models.Mixed, models.Family)
	if f.Trip.End.String() <= f.Trip.Start.String() {
		bad("trip: end %s is not after start %s: a trip ends on the day it starts", f.Trip.End, f.Trip.Start)
	}
	if s, ok := f.Reports.Season.Get(); ok {
		oneOf(bad, "reports.season", s, models.SeasonPeak, models.SeasonSpringRun, models.SeasonGood, models.SeasonTailEnd, models.SeasonOff)
	}
	if s, ok := f.Reports.Water.Get(); ok {
		oneOf(bad, "reports.water", s, models.WaterClear, models.WaterCleanGreen, models.WaterBlueEdge, models.WaterDirty)
	}
	if s, ok := f.Reports.FishOnTop.Get(); ok {
		oneOf(bad, "reports.fish_on_top_seen", s, models.SeenToday, models.SeenYesterday)
	}
	hours, err := hoursOf("hours", f.Hours)
	if err != nil {
		errs = append(errs, err)
	}
	var members []models.Member
	for i, m := range f.Members {
		h, err := hoursOf(fmt.Sprintf("members[%d]", i), m)
		if err != nil {
			errs = append(errs, err)
		}
		members = append(members, models.Member{Hours: h})
	}
	for i, v := range f.Overrides {
		if v.What == "" || v.Why == "" {
			bad("overrides[%d]: an override needs both what and why", i)
		}
	}
	warnings, err := warningsOf("warnings", f.Warnings)
	if err != nil {
		errs = append(errs, err)
	}
	stood, err := warningsOf("warnings_stood", models.Known(f.Stood))
	if err != nil {
		errs = append(errs, err)
	}
	if len(f.Stood) > 0 && warnings.Known() {
		bad("warnings_stood: it tells what stood while warnings is null; leave it out where warnings is known")
	}
	if err := errors.Join(errs...); err != nil {
		return o, fmt.Errorf("read outlook file: %w", err)
	}
	o = models.Outlook{
		Demo: f.Demo, Made: f.Made.UTC(), Date: f.Date,
		Port: models.Port{Name: f.Port.Name, At: port, Zone: zone, ShoreNormal: units.Toward(f.Port.ShoreNormal), InletDepth: feet(f.Port.InletDepth)},
		Ground: models.Ground{
			Name: f.Ground.Name, At: ground, Depth: units.Length(f.Ground.Depth.Or(150)) * units.Foot,
			Run:     time.Duration(f.Ground.Run.Or(30) * float64(time.Minute)),
			Shallow: feet(f.Ground.Shallow), Deep: feet(f.Ground.Deep), Slope: f.Ground.Slope,
		},
		Boat: models.Boat{
			Name: f.Boat.Name, Kind: kind, Length: units.Length(f.Boat.Length) * units.Foot,
			Tower: feet(f.Boat.Tower).Or(0), HeliumAboard: f.Boat.Helium.Or(false), Crew: f.Boat.Crew.Or(2),
			Cruise: knots(f.Boat.Cruise), SeaAnchor: f.Boat.SeaAnchor, Passengers: f.Boat.Passengers,
			FuelPerHour: f.Boat.FuelBurn, FuelUsable: f.Boat.Fuel,
		},
		Trip: models.Trip{
			Kind: models.TripKind(f.Trip.Kind), Party: models.Party(f.Trip.Party), Start: f.Trip.Start, End: f.Trip.End,
			LinesIn: f.Trip.LinesIn, LinesOut: f.Trip.LinesOut, ForHire: f.Trip.ForHire, Guests: f.Trip.Guests,
		},
		Reports: models.Reports{
			EdgeInReach: f.Reports.EdgeInReach, EdgeDepth: feet(f.Reports.EdgeDepth),
			Water:         models.MapOpt(f.Reports.Water, func(s string) models.Water { return models.Water(s) }),
			FishOnTop:     models.MapOpt(f.Reports.FishOnTop, func(s string) models.Seen { return models.Seen(s) }),
			Season:        models.MapOpt(f.Reports.Season, func(s string) models.Season { return models.Season(s) }),
			BaitShowering: f.Reports.Showering, InletHazardFrom: f.Reports.InletHazard,
		},
		Middle: models.Member{Hours: hours}, Members: members, Warnings: warnings, Stood: stood.Or(nil), HistoryDays: f.History,
	}
	for _, v := range f.Overrides {
		o.Overrides = append(o.Overrides, models.Override{What: v.What, Why: v.Why})
	}
	for _, k := range f.Kites {
		o.Kites = append(o.Kites, models.Kite{
			Name: k.Name, Area: k.Area, Aspect: k.Aspect, Min: knots(k.Min), Max: knots(k.Max), Line: k.Line,
			Mass: models.MapOpt(k.Mass, func(g float64) units.Mass { return units.Mass(g) * units.Gram }),
		})
	}
	for _, t := range f.Texts {
		o.Texts = append(o.Texts, models.OfficialText{
			Zone: t.Zone, Name: t.Name, Office: t.Office, Issued: t.Issued, Expires: t.Expires,
			Headlines: t.Headlines, Body: t.Body, StreamEdge: t.StreamEdge,
		})
	}
	for _, t := range f.Tides {
		o.Tides = append(o.Tides, models.TideEvent{At: t.At.UTC(), Kind: models.TideKind(t.Kind), Height: units.Length(t.Height) * units.Foot, Datum: t.Datum})
	}
	for _, s := range f.Streams {
		o.Streams = append(o.Streams, models.StreamEvent{At: s.At.UTC(), Kind: models.StreamKind(s.Kind), Speed: units.Speed(s.Speed) * units.Knot, Toward: towards(s.Toward)})
	}
	for _, s := range f.Sources {
		o.Sources = append(o.Sources, models.Provenance{Source: s.Name, Detail: s.Detail, Issued: s.Issued, Fetched: s.Fetched})
	}
	for _, g := range f.Missing {
		o.Missing = append(o.Missing, models.Gap{What: g.What, Why: g.Why})
	}
	return o, nil
}

func oneOf[T ~string](bad func(string, ...any), key, got string, want ...T) {
	for _, w := range want {
		if got == string(w) {
			return
		}
	}
	bad("%s: %q: use one of %q", key, got, want)
}

func hoursOf(path string, fs []fileHour) ([]models.Hour, error) {
	hours := make([]models.Hour, 0, len(fs))
	for i, f := range fs {
		if f.At.IsZero() {
			return nil, fmt.Errorf("%s[%d].at: missing: give the hour's time, as 2027-01-19T11:00:00Z", path, i)
		}
		if i > 0 && !f.At.After(fs[i-1].At) {
			return nil, fmt.Errorf("%s[%d].at: %s is not after the hour before it: put the hours in order", path, i, f.At.Format(time.RFC3339))
		}
		if key := f.impossible(); key != "" {
			return nil, fmt.Errorf("%s[%d].%s: out of range: write null where it is unknown", path, i, key)
		}
		hours = append(hours, models.Hour{
			At: f.At.UTC(), Wind: knots(f.Wind), WindFrom: froms(f.WindFrom), Gust: knots(f.Gust), DirectionSpread: f.DirectionSpread,
			Sea: feet(f.Sea), Period: f.Period, SeaFrom: froms(f.SeaFrom), SeaIncludesCurrent: f.SeaIncludes,
			Swell: feet(f.Swell), SwellPeriod: f.SwellPeriod, SwellFrom: froms(f.SwellFrom),
			InletCurrent: knots(f.InletCurrent), Current: knots(f.Current), CurrentToward: towards(f.CurrentToward),
			Cloud: f.Cloud, Rain: f.Rain, Thunder: f.Thunder,
			Visibility: models.MapOpt(f.Visibility, func(v float64) units.Length { return units.Length(v) * units.NauticalMile }),
			Air:        models.MapOpt(f.Air, units.Fahrenheit), Water: models.MapOpt(f.Water, units.Fahrenheit),
		})
	}
	return hours, nil
}

// impossible names the first key whose value no sea or sky can have.
func (f fileHour) impossible() string {
	for _, c := range []struct {
		key    string
		v      models.Opt[float64]
		lo, hi float64
	}{
		{"wind_kn", f.Wind, 0, 250}, {"gust_kn", f.Gust, 0, 300}, {"wind_from_deg", f.WindFrom, 0, 360},
		{"direction_spread_deg", f.DirectionSpread, 0, 360}, {"sea_ft", f.Sea, 0, 120}, {"period_s", f.Period, 0.1, 40},
		{"sea_from_deg", f.SeaFrom, 0, 360}, {"swell_ft", f.Swell, 0, 120}, {"swell_period_s", f.SwellPeriod, 0.1, 40},
		{"swell_from_deg", f.SwellFrom, 0, 360}, {"inlet_current_kn", f.InletCurrent, -20, 20}, {"current_kn", f.Current, 0, 20},
		{"current_toward_deg", f.CurrentToward, 0, 360}, {"cloud_pct", f.Cloud, 0, 100}, {"rain_pct", f.Rain, 0, 100},
		{"thunder_pct", f.Thunder, 0, 100}, {"visibility_nmi", f.Visibility, 0, 200}, {"air_f", f.Air, -80, 140}, {"sea_f", f.Water, 20, 110},
	} {
		if v, ok := c.v.Get(); ok && !(v >= c.lo && v <= c.hi) {
			return c.key
		}
	}
	return ""
}

// warningsOf reads the products under a key.
func warningsOf(key string, fs models.Opt[[]fileWarning]) (models.Opt[[]models.Warning], error) {
	list, known := fs.Get()
	if !known {
		return models.Unknown[[]models.Warning](), nil
	}
	ws := make([]models.Warning, 0, len(list))
	for i, f := range list {
		if f.Event == "" && !f.VTEC.Known() {
			return models.Unknown[[]models.Warning](), fmt.Errorf("%s[%d]: give the event's name or its vtec", key, i)
		}
		w := models.Warning{
			Event: f.Event, VTEC: f.VTEC.Or(""), Zone: f.Zone.Or(""), ZoneName: f.ZoneName, Office: f.Office, Issued: f.Issued,
			Onset: f.Onset.UTC(), Ends: models.MapOpt(f.Ends, time.Time.UTC), Headline: f.Headline, Text: f.Text, Instruction: f.Instruction, URL: f.URL,
		}
		if w.VTEC != "" {
			var ok bool
			if w.Phenomenon, w.Significance, ok = models.VTECCodes(w.VTEC); !ok {
				return models.Unknown[[]models.Warning](), fmt.Errorf("%s[%d].vtec: %q is no P-VTEC string", key, i, w.VTEC)
			}
		}
		ws = append(ws, w)
	}
	return models.Known(ws), nil
}

func fileWarnings(ws []models.Warning) []fileWarning {
	list := []fileWarning{}
	for _, w := range ws {
		list = append(list, fileWarning{
			Event: w.Event, VTEC: textOrNull(w.VTEC), Zone: textOrNull(w.Zone), ZoneName: w.ZoneName, Office: w.Office, Issued: w.Issued,
			Onset: w.Onset, Ends: w.Ends, Headline: w.Headline, Text: w.Text, Instruction: w.Instruction, URL: w.URL,
		})
	}
	return list
}

func fileOf(o models.Outlook) outlookFile {
	f := outlookFile{
		Schema: OutlookSchema, Demo: o.Demo, Made: o.Made, Date: o.Date,
		Port: filePort{Name: o.Port.Name, Lat: o.Port.At.Lat, Lon: o.Port.At.Lon, TimeZone: zoneName(o.Port.Zone), ShoreNormal: o.Port.ShoreNormal.Degrees(), InletDepth: inFeet(o.Port.InletDepth)},
		Ground: fileGround{
			Name: o.Ground.Name, Lat: o.Ground.At.Lat, Lon: o.Ground.At.Lon, Depth: models.Known(tidy(o.Ground.Depth.Feet())),
			Run: models.Known(tidy(o.Ground.Run.Minutes())), Shallow: inFeet(o.Ground.Shallow), Deep: inFeet(o.Ground.Deep), Slope: o.Ground.Slope,
		},
		Boat: fileBoat{
			Name: o.Boat.Name, Kind: string(o.Boat.Kind), Length: tidy(o.Boat.Length.Feet()), Tower: models.Known(tidy(o.Boat.Tower.Feet())),
			Helium: models.Known(o.Boat.HeliumAboard), Crew: models.Known(o.Boat.Crew), Cruise: inKnots(o.Boat.Cruise),
			SeaAnchor: o.Boat.SeaAnchor, Passengers: o.Boat.Passengers, FuelBurn: o.Boat.FuelPerHour, Fuel: o.Boat.FuelUsable,
		},
		Trip: fileTrip{
			Kind: string(o.Trip.Kind), Party: string(o.Trip.Party), Start: o.Trip.Start, End: o.Trip.End,
			LinesIn: o.Trip.LinesIn, LinesOut: o.Trip.LinesOut, ForHire: o.Trip.ForHire, Guests: o.Trip.Guests,
		},
		Reports: fileReports{
			EdgeInReach: o.Reports.EdgeInReach, EdgeDepth: inFeet(o.Reports.EdgeDepth),
			Water:     models.MapOpt(o.Reports.Water, func(w models.Water) string { return string(w) }),
			FishOnTop: models.MapOpt(o.Reports.FishOnTop, func(s models.Seen) string { return string(s) }),
			Season:    models.MapOpt(o.Reports.Season, func(s models.Season) string { return string(s) }),
			Showering: o.Reports.BaitShowering, InletHazard: o.Reports.InletHazardFrom,
		},
		Hours: fileHours(o.Middle.Hours), History: o.HistoryDays, Overrides: []fileOverride{},
	}
	for _, m := range o.Members {
		f.Members = append(f.Members, fileHours(m.Hours))
	}
	f.Warnings, f.Stood = models.MapOpt(o.Warnings, fileWarnings), fileWarnings(o.Stood)
	for _, v := range o.Overrides {
		f.Overrides = append(f.Overrides, fileOverride{What: v.What, Why: v.Why})
	}
	for _, k := range o.Kites {
		f.Kites = append(f.Kites, fileKite{
			Name: k.Name, Area: k.Area, Aspect: k.Aspect, Min: inKnots(k.Min), Max: inKnots(k.Max), Line: k.Line,
			Mass: models.MapOpt(k.Mass, func(m units.Mass) float64 { return tidy(m.Kilograms() * 1000) }),
		})
	}
	for _, t := range o.Texts {
		f.Texts = append(f.Texts, fileText{Zone: t.Zone, Name: t.Name, Office: t.Office, Issued: t.Issued, Expires: t.Expires, Headlines: t.Headlines, Body: t.Body, StreamEdge: t.StreamEdge})
	}
	for _, t := range o.Tides {
		f.Tides = append(f.Tides, fileTide{At: t.At, Kind: string(t.Kind), Height: tidy(t.Height.Feet()), Datum: t.Datum})
	}
	for _, s := range o.Streams {
		f.Streams = append(f.Streams, fileStream{At: s.At, Kind: string(s.Kind), Speed: tidy(s.Speed.Knots()), Toward: inDegrees(s.Toward)})
	}
	for _, s := range o.Sources {
		f.Sources = append(f.Sources, fileSource{Name: s.Source, Detail: s.Detail, Issued: s.Issued, Fetched: s.Fetched})
	}
	for _, g := range o.Missing {
		f.Missing = append(f.Missing, fileGap{What: g.What, Why: g.Why})
	}
	return f
}

func fileHours(hs []models.Hour) []fileHour {
	fs := make([]fileHour, 0, len(hs))
	for _, h := range hs {
		fs = append(fs, fileHour{
			At: h.At, Wind: inKnots(h.Wind), WindFrom: inDegrees(h.WindFrom), Gust: inKnots(h.Gust), DirectionSpread: h.DirectionSpread,
			Sea: inFeet(h.Sea), Period: h.Period, SeaFrom: inDegrees(h.SeaFrom), SeaIncludes: h.SeaIncludesCurrent,
			Swell: inFeet(h.Swell), SwellPeriod: h.SwellPeriod, SwellFrom: inDegrees(h.SwellFrom),
			InletCurrent: inKnots(h.InletCurrent), Current: inKnots(h.Current), CurrentToward: inDegrees(h.CurrentToward),
			Cloud: h.Cloud, Rain: h.Rain, Thunder: h.Thunder,
			Visibility: models.MapOpt(h.Visibility, func(v units.Length) float64 { return tidy(v.NauticalMiles()) }),
			Air:        models.MapOpt(h.Air, inFahrenheit), Water: models.MapOpt(h.Water, inFahrenheit),
		})
	}
	return fs
}

// tidy takes off what the conversion between units left behind the sixth
// decimal, so that 12 kn is written 12.
func tidy(v float64) float64 { return math.Round(v*1e6) / 1e6 }

func knots(v models.Opt[float64]) models.Opt[units.Speed] {
	return models.MapOpt(v, func(x float64) units.Speed { return units.Speed(x) * units.Knot })
}

func feet(v models.Opt[float64]) models.Opt[units.Length] {
	return models.MapOpt(v, func(x float64) units.Length { return units.Length(x) * units.Foot })
}

func froms(v models.Opt[float64]) models.Opt[units.From] {
	return models.MapOpt(v, func(x float64) units.From { return units.From(x) })
}

func towards(v models.Opt[float64]) models.Opt[units.Toward] {
	return models.MapOpt(v, func(x float64) units.Toward { return units.Toward(x) })
}

func inKnots(v models.Opt[units.Speed]) models.Opt[float64] {
	return models.MapOpt(v, func(s units.Speed) float64 { return tidy(s.Knots()) })
}

func inFeet(v models.Opt[units.Length]) models.Opt[float64] {
	return models.MapOpt(v, func(l units.Length) float64 { return tidy(l.Feet()) })
}

func inFahrenheit(t units.Temperature) float64 { return tidy(t.Fahrenheit()) }

func inDegrees[T units.From | units.Toward](v models.Opt[T]) models.Opt[float64] {
	return models.MapOpt(v, func(b T) float64 { return tidy(float64(b)) })
}

func textOrNull(s string) models.Opt[string] {
	if s == "" {
		return models.Unknown[string]()
	}
	return models.Known(s)
}

func zoneName(z *time.Location) string {
	if z == nil {
		return "UTC"
	}
	return z.String()
}

// locate adds line and column to an error of the JSON decoder.
func locate(b []byte, err error) error {
	var syntax *json.SyntaxError
	var wrong *json.UnmarshalTypeError
	offset := int64(-1)
	switch {
	case errors.As(err, &syntax):
		offset = syntax.Offset
	case errors.As(err, &wrong):
		offset = wrong.Offset
	}
	if offset < 0 || offset > int64(len(b)) {
		return err
	}
	before := b[:offset]
	line := 1 + bytes.Count(before, []byte("\n"))
	column := len(before) - bytes.LastIndexByte(before, '\n')
	return fmt.Errorf("line %d, column %d: %w", line, column, err)
}
