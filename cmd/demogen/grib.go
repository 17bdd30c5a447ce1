package main

import (
	"bytes"
	"fmt"
	"math"
	"net/http"
	"strings"
	"time"

	"forecastd/internal/fetch/grib2/encode"
)

// waveRun is the model run that has come out whole by the demo's evening.
func waveRun() time.Time { return time.Date(2027, 1, 18, 12, 0, 0, 0, time.UTC) }

// streamRun is the run of the ocean model.
func streamRun() time.Time { return time.Date(2027, 1, 18, 0, 0, 0, 0, time.UTC) }

// parameter is one field of a model, by its name in the inventory.
type parameter struct {
	name, level             string
	discipline, cat, number int
	surface                 encode.Surface
	packing                 encode.Packing
	value                   func(h, lat, lon float64) float64
}

// late is how much later the weather comes to a place than to the port: the
// front moves to the south-east at some 20 knots.
func late(h, lat, lon float64) float64 { return h - ((portLat-lat)*60+(lon-portLon)*53)/1.414/20 }

func waveParameters() []parameter {
	surface := encode.Surface{Type: 1, Value: 1}
	simple := encode.Packing{Template: 0, Decimal: 2}
	complex2 := encode.Packing{Template: 2, Decimal: 2}
	spatial := encode.Packing{Template: 3, Decimal: 2, Order: 2}
	along := func(speed, from float64, east bool) float64 {
		sin, cos := math.Sincos((from + 180) * math.Pi / 180)
		if east {
			return speed * knotMS * sin
		}
		return speed * knotMS * cos
	}
	return []parameter{
		{"UGRD", "surface", 0, 2, 2, surface, simple, func(h, lat, lon float64) float64 { w, d := wind(late(h, lat, lon)); return along(w, d, true) }},
		{"VGRD", "surface", 0, 2, 3, surface, simple, func(h, lat, lon float64) float64 { w, d := wind(late(h, lat, lon)); return along(w, d, false) }},
		{"WIND", "surface", 0, 2, 1, surface, complex2, func(h, lat, lon float64) float64 { w, _ := wind(late(h, lat, lon)); return w * knotMS }},
		{"WDIR", "surface", 0, 2, 0, surface, complex2, func(h, lat, lon float64) float64 { _, d := wind(late(h, lat, lon)); return d }},
		{"HTSGW", "surface", 10, 0, 3, surface, spatial, func(h, lat, lon float64) float64 { f, _, _ := sea(late(h, lat, lon)); return f * 0.3048 * 0.97 }},
		{"PERPW", "surface", 10, 0, 11, surface, spatial, func(h, lat, lon float64) float64 { _, p, _ := sea(late(h, lat, lon)); return p + 0.2 }},
		{"DIRPW", "surface", 10, 0, 10, surface, simple, func(h, lat, lon float64) float64 { _, _, d := sea(late(h, lat, lon)); return d }},
		{"SWELL", "1 in sequence", 10, 0, 8, encode.Surface{Type: 241, Value: 1}, spatial, func(h, _, _ float64) float64 { f, _, _ := swell(h); return f * 0.3048 }},
		{"SWPER", "1 in sequence", 10, 0, 9, encode.Surface{Type: 241, Value: 1}, spatial, func(h, _, _ float64) float64 { _, p, _ := swell(h); return p }},
		{"SWDIR", "1 in sequence", 10, 0, 7, encode.Surface{Type: 241, Value: 1}, simple, func(h, _, _ float64) float64 { _, _, d := swell(h); return d }},
	}
}

// patch is a small piece of the invented sea on a latitude and longitude
// grid, with land to the west.
func patch(north, west, step float64, n, scan int) (encode.LatLon, []point) {
	g := encode.LatLon{Ni: n, Nj: n, FirstLat: north, FirstLon: west, Di: step, Dj: step, Scan: scan}
	dy := -step
	if scan&64 != 0 {
		g.FirstLat -= step * float64(n-1)
		dy = step
	}
	var points []point
	for j := range n {
		for i := range n {
			points = append(points, point{g.FirstLat + dy*float64(j), west + step*float64(i)})
		}
	}
	return g, points
}

type point struct{ lat, lon float64 }

func message(discipline int, run time.Time, g encode.LatLon, points []point, ps ...fieldAt) []byte {
	m := encode.Message{Discipline: discipline, Centre: 7, Run: run}
	for _, p := range ps {
		f := encode.Field{Grid: g, Category: p.cat, Number: p.number, Surface: p.surface, Start: p.at, End: p.at, Packing: p.packing}
		for _, q := range points {
			gap := encode.Present
			if q.lon < coastLon {
				gap = encode.Primary
			}
			f.Gaps = append(f.Gaps, gap)
			f.Values = append(f.Values, p.value(hour(p.at), q.lat, q.lon))
		}
		m.Fields = append(m.Fields, f)
	}
	b, err := m.Bytes()
	if err != nil {
		panic(err) // the fields are our own
	}
	return b
}

type fieldAt struct {
	parameter
	at time.Time
}

// waveFile is one forecast hour of the wave model, with its inventory.
func waveFile(lead int) (body []byte, index string) {
	at := waveRun().Add(time.Duration(lead) * time.Hour)
	g, points := patch(28.48, -81.12, 0.16, 17, 0)
	window := fmt.Sprintf("%d hour fcst", lead)
	switch {
	case lead == 0:
		window = "anl"
	case lead%24 == 0:
		window = fmt.Sprintf("%d day fcst", lead/24)
	}
	var idx strings.Builder
	for i, p := range waveParameters() {
		fmt.Fprintf(&idx, "%d:%d:d=%s:%s:%s:%s:\n", i+1, len(body), waveRun().Format("2006010215"), p.name, p.level, window)
		body = append(body, message(p.discipline, waveRun(), g, points, fieldAt{p, at})...)
	}
	return body, idx.String()
}

func gfsWave(w http.ResponseWriter, r *http.Request) {
	name := r.PathValue("name")
	var lead int
	if r.PathValue("run") != "gfs."+waveRun().Format("20060102") || r.PathValue("cycle") != "12" {
		http.NotFound(w, r)
		return
	}
	base, isIndex := strings.CutSuffix(name, ".idx")
	if _, err := fmt.Sscanf(base, "gfswave.t12z.atlocn.0p16.f%03d.grib2", &lead); err != nil || lead > 240 || base != fmt.Sprintf("gfswave.t12z.atlocn.0p16.f%03d.grib2", lead) {
		http.NotFound(w, r)
		return
	}
	body, index := waveFile(lead)
	made := waveRun().Add(4*time.Hour + time.Duration(lead)*20*time.Second)
	if isIndex {
		serveBytes(w, r, made.Add(2*time.Second), []byte(index))
		return
	}
	serveBytes(w, r, made, body)
}

// rtofs is the ocean model: one file holds a day of hourly surface currents.
func rtofs(w http.ResponseWriter, r *http.Request) {
	var last int
	name := r.PathValue("name")
	if r.PathValue("run") != "rtofs."+streamRun().Format("20060102") {
		http.NotFound(w, r)
		return
	}
	if _, err := fmt.Sscanf(name, "rtofs_glo.t00z.f%03d_west_atl_std.grb2", &last); err != nil || name != fmt.Sprintf("rtofs_glo.t00z.f%03d_west_atl_std.grb2", last) || last%24 != 0 || last < 24 || last > 72 {
		http.NotFound(w, r)
		return
	}
	sea0 := encode.Surface{Type: 160, Value: 0}
	simple := encode.Packing{Template: 0, Decimal: 2}
	component := func(east bool) func(h, lat, lon float64) float64 {
		return func(h, _, lon float64) float64 {
			speed, toward := current(h)
			// The current is strongest offshore and slack under the land.
			speed *= min(1.3, max(0.3, 1+(lon-groundLon)*2)) * knotMS
			sin, cos := math.Sincos(toward * math.Pi / 180)
			if east {
				return speed * sin
			}
			return speed * cos
		}
	}
	u := parameter{name: "UOGRD", cat: 1, number: 2, surface: sea0, packing: simple, value: component(true)}
	v := parameter{name: "VOGRD", cat: 1, number: 3, surface: sea0, packing: simple, value: component(false)}
	g, points := patch(27.44, -80.16, 0.08, 7, 64)
	var body bytes.Buffer
	for lead := last - 23; lead <= last; lead++ {
		at := streamRun().Add(time.Duration(lead) * time.Hour)
		body.Write(message(10, streamRun(), g, points, fieldAt{u, at}))
		body.Write(message(10, streamRun(), g, points, fieldAt{v, at}))
	}
	serveBytes(w, r, streamRun().Add(8*time.Hour), body.Bytes())
}
