package main

import (
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"strings"
	"time"

	"forecastd/internal/models"
)

const (
	zoneName997 = "Invented waters from Amparo Inlet out 20 NM"
	zoneName998 = "Invented waters from Amparo Inlet 20 to 60 NM"
)

// issued is when the invented office put out its afternoon forecast.
func issued() time.Time { return time.Date(2027, 1, 18, 20, 20, 0, 0, time.UTC) }

// The advisory: from 20 UTC (15:00 at the port) on the 19th to 12 UTC (07:00)
// on the 20th.
func advisoryStart() time.Time { return time.Date(2027, 1, 19, 20, 0, 0, 0, time.UTC) }
func advisoryEnd() time.Time   { return time.Date(2027, 1, 20, 12, 0, 0, 0, time.UTC) }

const knotMS = 1852.0 / 3600

// pierText is a C-MAN-like station: two-minute winds every ten minutes from
// 12 m up, no waves.
func pierText() string {
	n := noise(1)
	var b strings.Builder
	b.WriteString("#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS PTDY  TIDE\n" +
		"#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC  nmi  hPa    ft\n")
	for t := asOf().Add(-10 * time.Minute).Truncate(10 * time.Minute); t.After(asOf().Add(-48 * time.Hour)); t = t.Add(-10 * time.Minute) {
		h := hour(t)
		w, from := wind(h)
		fmt.Fprintf(&b, "%s %3.0f %4.1f %4.1f    MM    MM    MM  MM %6.1f %5.1f %5.1f    MM   MM   MM    MM\n",
			t.Format("2006 01 02 15 04"), math.Mod(from+n(6)+360, 360), max(0, w*knotMS*1.02+n(0.4)), max(0, gust(h)*knotMS*1.02+n(0.5)+0.4),
			pressure(h)+n(0.1), airC(h)+n(0.2), seaC+n(0.1))
	}
	return b.String()
}

// buoyText is a 4 m buoy: wind every ten minutes, waves once an hour.
func buoyText() string {
	n := noise(2)
	var b strings.Builder
	b.WriteString("#YY  MM DD hh mm WDIR WSPD GST  WVHT   DPD   APD MWD   PRES  ATMP  WTMP  DEWP  VIS PTDY  TIDE\n" +
		"#yr  mo dy hr mn degT m/s  m/s     m   sec   sec degT   hPa  degC  degC  degC  nmi  hPa    ft\n")
	for t := asOf().Add(-20 * time.Minute).Truncate(10 * time.Minute); t.After(asOf().Add(-48 * time.Hour)); t = t.Add(-10 * time.Minute) {
		h := hour(t)
		w, from := wind(h)
		waves := "   MM    MM    MM  MM"
		if ft, period, seaFrom := sea(h); t.Minute() == 50 {
			waves = fmt.Sprintf("%5.1f %5.0f %5.1f %3.0f", ft*0.3048+n(0.05), period+0.3, period*0.8, seaFrom)
		} else if t.Minute() == 40 {
			waves = fmt.Sprintf("%5.1f    MM %5.1f %3.0f", ft*0.3048+n(0.05), period*0.8, seaFrom)
		}
		fmt.Fprintf(&b, "%s %3.0f %4.1f %4.1f %s %6.1f %5.1f %5.1f    MM   MM %+5.1f    MM\n",
			t.Format("2006 01 02 15 04"), math.Mod(from+n(5)+360, 360), max(0, w*knotMS*0.91+n(0.3)), max(0, gust(h)*knotMS*0.92+n(0.4)+0.3), waves,
			pressure(h)+n(0.1), airC(h)+n(0.2), seaC+n(0.05), pressure(h)-pressure(h-3))
	}
	return b.String()
}

func buoySpec() string {
	points := []string{"N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW", "NNW"}
	name := func(deg float64) string { return points[int(math.Round(deg/22.5))%16] }
	var b strings.Builder
	b.WriteString("#YY  MM DD hh mm WVHT  SwH  SwP  WWH  WWP SwD WWD  STEEPNESS  APD MWD\n" +
		"#yr  mo dy hr mn    m    m  sec    m  sec  -  degT     -      sec degT\n")
	last := asOf().Truncate(time.Hour).Add(-20 * time.Minute)
	for t := last; t.After(asOf().Add(-48 * time.Hour)); t = t.Add(-time.Hour) {
		ft, period, from := sea(hour(t))
		sw, swPeriod, swFrom := swell(hour(t))
		all, long := ft*0.3048, sw*0.3048
		chop := math.Sqrt(max(0, all*all-long*long))
		fmt.Fprintf(&b, "%s %4.1f %4.1f %4.1f %4.1f %4.1f %3s %3s %10s %4.1f %3.0f\n",
			t.Format("2006 01 02 15 04"), all, long, swPeriod, chop, period, name(swFrom), name(from), "N/A", period*0.8, from)
	}
	return b.String()
}

func activeStations() string {
	return fmt.Sprintf(`<?xml version="1.0" encoding="UTF-8"?>
<stations created="%s" count="2">
<station id="49997" lat="27.15" lon="-79.7" name="Invented buoy, Shelf edge" owner="invented" pgm="invented" type="buoy" met="y" currents="n" waterquality="n" dart="n"/>
<station id="xamp1" lat="27.2" lon="-79.9" elev="3" name="Invented pier, Amparo Inlet" owner="invented" pgm="invented" type="fixed" met="y" currents="n" waterquality="n" dart="n"/>
</stations>
`, asOf().Add(-7*time.Minute).Format("2006-01-02T15:04:05UTC"))
}

func marshal(v any) string {
	b, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		panic(err) // the values are our own
	}
	return string(b) + "\n"
}

type object = map[string]any

const advisoryText = `* WHAT...Southwest winds 15 to 20 kt with gusts up to 30 kt ahead of a cold front, becoming northwest 20 to 25 kt behind it. Seas building to 5 to 7 ft.

* WHERE...Invented waters from Amparo Inlet out 20 NM.

* WHEN...From 3 PM Tuesday to 7 AM EST Wednesday.

* IMPACTS...Conditions will be hazardous to small craft.`

func alerts(zones []string) string {
	var features []object
	for _, z := range zones {
		if z != "AMZ997" {
			continue
		}
		features = append(features, object{
			"id": "https://api.weather.gov/alerts/urn:oid:2.49.0.1.840.0.invented.001.1", "type": "Feature", "geometry": nil,
			"properties": object{
				"id": "urn:oid:2.49.0.1.840.0.invented.001.1", "areaDesc": zoneName997,
				"geocode":       object{"SAME": []string{"075997"}, "UGC": []string{"AMZ997"}},
				"affectedZones": []string{"https://api.weather.gov/zones/forecast/AMZ997"}, "references": []any{},
				"sent": issued(), "effective": issued(), "onset": advisoryStart(), "expires": time.Date(2027, 1, 19, 9, 0, 0, 0, time.UTC), "ends": advisoryEnd(),
				"status": "Actual", "messageType": "Alert", "category": "Met", "severity": "Minor", "certainty": "Likely", "urgency": "Expected",
				"event": "Small Craft Advisory", "sender": "invented@example.com", "senderName": "NWS Amparo (invented)",
				"headline":    "Small Craft Advisory issued January 18 at 3:20PM EST until January 20 at 7:00AM EST by NWS Amparo (invented)",
				"description": advisoryText,
				"instruction": "Inexperienced mariners, especially those operating smaller vessels, should avoid navigating in hazardous conditions.",
				"response":    "Avoid",
				"parameters": object{
					"VTEC":            []string{"/O.NEW.KXAM.SC.Y.0007.270119T2000Z-270120T1200Z/"},
					"NWSheadline":     []string{"SMALL CRAFT ADVISORY IN EFFECT FROM 3 PM TUESDAY TO 7 AM EST WEDNESDAY"},
					"eventEndingTime": []string{advisoryEnd().Format(time.RFC3339)},
				},
			},
		})
	}
	if features == nil {
		features = []object{}
	}
	return marshal(object{"type": "FeatureCollection", "title": "Current watches, warnings, and advisories (invented)", "updated": asOf().Add(-5 * time.Minute), "features": features})
}

// layer merges equal hours into intervals, as the service does.
func layer(uom string, value func(h float64) float64) object {
	start := issued().Truncate(time.Hour)
	const hours = 168
	var values []object
	at := start
	for i := 0; i < hours; {
		v := value(hour(start.Add(time.Duration(i) * time.Hour)))
		n := 1
		for i+n < hours && n < 6 && value(hour(start.Add(time.Duration(i+n)*time.Hour))) == v {
			n++
		}
		values = append(values, object{"validTime": fmt.Sprintf("%s/PT%dH", at.Format("2006-01-02T15:04:05-07:00"), n), "value": v})
		i += n
		at = at.Add(time.Duration(n) * time.Hour)
	}
	l := object{"values": values}
	if uom != "" {
		l["uom"] = "wmoUnit:" + uom
		if uom == "s" {
			l["uom"] = "nwsUnit:s"
		}
	}
	return l
}

func whole(v, step float64) float64 { return math.Round(v/step) * step }

func gridpoint(y int) string {
	kmh := func(f func(float64) float64) func(float64) float64 {
		return func(h float64) float64 { return whole(f(h), 1) * 1.852 }
	}
	p := object{
		"@id": fmt.Sprintf("https://api.weather.gov/gridpoints/XAM/60,%d", y), "@type": "wx:Gridpoint",
		"updateTime": issued().Format("2006-01-02T15:04:05-07:00"), "validTimes": issued().Truncate(time.Hour).Format("2006-01-02T15:04:05-07:00") + "/P7D",
		"elevation": object{"unitCode": "wmoUnit:m", "value": 0}, "forecastOffice": "https://api.weather.gov/offices/XAM", "gridId": "XAM", "gridX": "60", "gridY": fmt.Sprint(y),
		"windSpeed":                  layer("km_h-1", kmh(func(h float64) float64 { w, _ := wind(h); return w })),
		"windGust":                   layer("km_h-1", kmh(gust)),
		"windDirection":              layer("degree_(angle)", func(h float64) float64 { _, d := wind(h); return math.Mod(whole(d, 10), 360) }),
		"temperature":                layer("degC", func(h float64) float64 { return whole(airC(h), 5.0/9) }),
		"skyCover":                   layer("percent", func(h float64) float64 { return whole(cloud(h), 1) }),
		"probabilityOfPrecipitation": layer("percent", func(h float64) float64 { return whole(rain(h), 5) }),
		"probabilityOfThunder":       layer("", func(h float64) float64 { return whole(thunder(h), 1) }),
		"visibility":                 layer("m", func(h float64) float64 { return whole(visibility(h), 1) * 1852 }),
		"waveHeight":                 layer("m", func(h float64) float64 { f, _, _ := sea(h); return whole(f, 1) * 0.3048 }),
		"wavePeriod":                 layer("s", func(h float64) float64 { _, s, _ := sea(h); return whole(s, 1) }),
		"waveDirection":              layer("degree_(angle)", func(h float64) float64 { _, _, d := sea(h); return math.Mod(whole(d, 10), 360) }),
		"primarySwellHeight":         layer("m", func(h float64) float64 { f, _, _ := swell(h); return whole(f, 1) * 0.3048 }),
		"primarySwellDirection":      layer("degree_(angle)", func(h float64) float64 { _, _, d := swell(h); return whole(d, 10) }),
		"wavePeriod2":                layer("s", func(h float64) float64 { _, s, _ := swell(h); return whole(s, 1) }),
		"lightningActivityLevel":     object{"values": []any{}},
	}
	return marshal(object{"@context": []any{"https://geojson.org/geojson-ld/geojson-context.jsonld"}, "id": p["@id"], "type": "Feature",
		"geometry": object{"type": "Polygon", "coordinates": [][][]float64{{{-79.85, 27.19}, {-79.83, 27.21}, {-79.81, 27.21}, {-79.83, 27.19}, {-79.85, 27.19}}}}, "properties": p})
}

func points(at string) string {
	y := 80
	if strings.HasPrefix(at, "27.3,") {
		y = 85
	}
	return marshal(object{"id": "https://api.weather.gov/points/invented", "type": "Feature", "properties": object{
		"@type": "wx:Point", "cwa": "XAM", "type": "marine", "forecastOffice": "https://api.weather.gov/offices/XAM", "gridId": "XAM", "gridX": 60, "gridY": y,
		"forecastZone": "https://api.weather.gov/zones/forecast/AMZ997", "timeZone": "America/New_York",
		"forecastGridData": fmt.Sprintf("https://api.weather.gov/gridpoints/XAM/60,%d", y),
	}})
}

func zone(id, name string) string {
	return marshal(object{"id": "https://api.weather.gov/zones/forecast/" + id, "type": "Feature", "geometry": nil, "properties": object{
		"@type": "wx:Zone", "id": id, "type": "coastal", "name": name, "cwa": []string{"XAM"}, "timeZone": []string{"America/New_York"},
	}})
}

func productList() string {
	return marshal(object{"@context": object{}, "@graph": []object{{
		"@id": "https://api.weather.gov/products/invented-cwf-1", "id": "invented-cwf-1", "wmoCollectiveId": "FZUS52", "issuingOffice": "KXAM",
		"issuanceTime": issued(), "productCode": "CWF", "productName": "Coastal Waters Forecast",
	}}})
}

func product() string {
	return marshal(object{"@context": object{}, "id": "invented-cwf-1", "wmoCollectiveId": "FZUS52", "issuingOffice": "KXAM", "issuanceTime": issued(),
		"productCode": "CWF", "productName": "Coastal Waters Forecast", "productText": coastalText})
}

const coastalText = `
FZUS52 KXAM 182020
CWFXAM

Coastal Waters Forecast for an invented coast
National Weather Service Amparo (invented)
320 PM EST Mon Jan 18 2027

AMZ900-190815-
320 PM EST Mon Jan 18 2027

.SYNOPSIS FOR INVENTED WATERS...High pressure moves away tonight. A
cold front crosses the waters late Tuesday afternoon with a line of
thunderstorms. High pressure builds in behind it on Wednesday.

The shoreward edge of the stream is near
8 nautical miles east of Amparo Inlet, as of January 18.

$$

AMZ997-190815-
Invented waters from Amparo Inlet out 20 NM-
320 PM EST Mon Jan 18 2027

...SMALL CRAFT ADVISORY IN EFFECT FROM 3 PM TUESDAY TO 7 AM EST
WEDNESDAY...

.TONIGHT...S winds 10 kt. Seas 2 ft. A slight chance of showers.
.TUE...S winds 10 to 15 kt becoming SW 15 to 20 kt with gusts up to
30 kt in the afternoon. Seas 2 to 3 ft building to 4 to 5 ft. Numerous
thunderstorms after 2 PM.
.TUE NIGHT...NW winds 20 to 25 kt becoming N late. Seas 5 to 7 ft.
.WED...N winds 15 kt. Seas 4 to 5 ft.
.THU...NE winds 10 to 15 kt. Seas 3 ft.

$$

AMZ998-190815-
Invented waters from Amparo Inlet 20 to 60 NM-
320 PM EST Mon Jan 18 2027

.TONIGHT...S winds 10 to 15 kt. Seas 2 to 3 ft.
.TUE...S winds 10 to 15 kt becoming SW 20 kt in the afternoon. Seas 3
to 4 ft building to 5 ft. Thunderstorms in the afternoon.
.WED...N winds 15 to 20 kt. Seas 5 to 7 ft.
.THU...NE winds 10 to 15 kt. Seas 3 to 4 ft.

$$
`

// datagetter answers for the tides and for the stream in the inlet.
func datagetter(r *http.Request) string {
	q := r.URL.Query()
	start, err1 := time.Parse("20060102", strings.TrimSpace(q.Get("begin_date")))
	end, err2 := time.Parse("20060102", strings.TrimSpace(q.Get("end_date")))
	if err1 != nil || err2 != nil {
		return marshal(object{"error": object{"message": "Wrong Date Format "}})
	}
	end = end.AddDate(0, 0, 1)
	const clock = "2006-01-02 15:04"
	switch {
	case q.Get("station") == "8799001" && q.Get("product") == "predictions" && q.Get("interval") == "hilo":
		events, err := tideStation().Extremes(start, end)
		if err != nil {
			return marshal(object{"error": object{"message": err.Error()}})
		}
		var rows []object
		for _, e := range events {
			kind := "L"
			if e.Kind == models.HighWater {
				kind = "H"
			}
			rows = append(rows, object{"t": e.At.Round(time.Minute).Format(clock), "v": fmt.Sprintf("%.3f", e.Height.Metres()), "type": kind})
		}
		return marshal(object{"predictions": rows})
	case q.Get("station") == "XAI0901" && q.Get("product") == "currents_predictions":
		what, unit := "meters, cm/s", 100.0
		if q.Get("units") == "english" {
			what, unit = "feet, knots", 1/knotMS
		}
		row := func(t time.Time, metresPerSecond float64) object {
			return object{"Time": t.Format(clock), "Velocity_Major": math.Round(metresPerSecond*unit*100) / 100, "meanFloodDir": 275, "meanEbbDir": 82, "Bin": "1", "Depth": nil}
		}
		var rows []object
		if strings.EqualFold(q.Get("interval"), "max_slack") {
			events, err := inlet().CurrentEvents(start, end)
			if err != nil {
				return marshal(object{"error": object{"message": err.Error()}})
			}
			for _, e := range events {
				o := row(e.At.Round(time.Minute), e.Speed.MetresPerSecond())
				o["Type"] = string(e.Kind)
				rows = append(rows, o)
			}
		} else {
			step := 30 * time.Minute
			if q.Get("interval") == "h" || q.Get("interval") == "60" {
				step = time.Hour
			}
			for t := start; t.Before(end); t = t.Add(step) {
				rows = append(rows, row(t, inlet().CurrentAt(t).Or(0).MetresPerSecond()))
			}
		}
		return marshal(object{"current_predictions": object{"units": what, "cp": rows}})
	}
	return marshal(object{"error": object{"message": " No data was found. This product may not be offered at this station at the requested time. "}})
}

func coopsStation(r *http.Request) string {
	id := strings.TrimSuffix(r.PathValue("name"), ".json")
	if id != "8799001" && id != "XAI0901" {
		return ""
	}
	return marshal(object{"count": 1, "stations": []object{{"id": id, "name": "Amparo Inlet (invented)", "lat": portLat, "lng": portLon}}})
}
