package web_test

import (
	"bytes"
	"encoding/xml"
	"io"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// gpxOrder are the elements of GPX 1.1 that we write, with the order in which
// their schema (http://www.topografix.com/GPX/1/1/gpx.xsd) wants what they hold.
func gpxOrder() map[string][]string {
	point := []string{"time", "name", "desc"}
	return map[string][]string{
		"gpx": {"metadata", "wpt", "trk"}, "metadata": {"name", "desc", "time"},
		"wpt": point, "trkpt": point, "trk": {"name", "desc", "trkseg"}, "trkseg": {"trkpt"},
	}
}

// checkGPX walks a file and holds it against the schema: well formed, in its
// namespace, elements known and in order, places on the globe, times in UTC.
func checkGPX(t *testing.T, b []byte) {
	t.Helper()
	d := xml.NewDecoder(bytes.NewReader(b))
	type open struct {
		name string
		last int
	}
	var stack []open
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		switch x := token.(type) {
		case xml.StartElement:
			require.Equal(t, "http://www.topografix.com/GPX/1/1", x.Name.Space)
			if len(stack) == 0 {
				require.Equal(t, "gpx", x.Name.Local)
			} else {
				up := &stack[len(stack)-1]
				i := slices.Index(gpxOrder()[up.name], x.Name.Local)
				require.GreaterOrEqual(t, i, up.last, "%s in %s", x.Name.Local, up.name)
				up.last = i
			}
			stack = append(stack, open{name: x.Name.Local})
			attr := map[string]string{}
			for _, a := range x.Attr {
				attr[a.Name.Local] = a.Value
			}
			switch x.Name.Local {
			case "gpx":
				require.Equal(t, "1.1", attr["version"])
				require.NotEmpty(t, attr["creator"])
			case "wpt", "trkpt":
				lat, err := strconv.ParseFloat(attr["lat"], 64)
				require.NoError(t, err)
				lon, err := strconv.ParseFloat(attr["lon"], 64)
				require.NoError(t, err)
				require.True(t, lat >= -90 && lat <= 90 && lon >= -180 && lon < 180, "%v %v", lat, lon)
			}
		case xml.CharData:
			if len(stack) > 0 && stack[len(stack)-1].name == "time" {
				at, err := time.Parse(time.RFC3339, string(x))
				require.NoError(t, err)
				require.True(t, strings.HasSuffix(string(x), "Z"))
				require.False(t, at.IsZero())
			}
		case xml.EndElement:
			stack = stack[:len(stack)-1]
		}
	}
	require.Empty(t, stack)
}

type gpx struct {
	Wpt []struct {
		Lat  float64 `xml:"lat,attr"`
		Lon  float64 `xml:"lon,attr"`
		Name string  `xml:"name"`
		Time string  `xml:"time"`
	} `xml:"wpt"`
	Trk struct {
		Desc  string `xml:"desc"`
		Trkpt []struct {
			Lat  float64 `xml:"lat,attr"`
			Lon  float64 `xml:"lon,attr"`
			Time string  `xml:"time"`
		} `xml:"trkseg>trkpt"`
	} `xml:"trk"`
}

// driftDesk has a drift of two hours, reset every 40 minutes.
func driftDesk(t *testing.T) *desk {
	t.Helper()
	d := newDesk(t)
	call := &d.board.Days[0].Trips[0].Call
	call.Ground.At = models.Position{Lat: 45, Lon: -80}
	d.board.Grounds[0].At = call.Ground.At
	at := call.Trip.Start.On(call.Date, call.Port.Zone).Add(time.Hour)
	drift := models.Drift{StartDepth: 150 * units.Foot, Speed: 1 * units.Knot, ResetEvery: models.Known(40 * time.Minute)}
	for i := range 5 {
		drift.Track = append(drift.Track, models.DriftPoint{At: at.Add(time.Duration(i) * 30 * time.Minute), East: units.Length(i) * 500, North: units.Length(i) * 250, SpreadRadius: units.Length(i) * 40})
	}
	call.Drift = models.Known(drift)
	return d
}

func TestTheTrackIsGPX(t *testing.T) {
	d := driftDesk(t)
	h := newServer(t, d)
	w := ask(h, "GET", "/drift.gpx")
	require.Equal(t, http.StatusOK, w.Code)
	require.Equal(t, "application/gpx+xml", w.Header().Get("Content-Type"))
	require.Equal(t, "attachment; filename=drift-"+d.board.Next.String()+".gpx", w.Header().Get("Content-Disposition"))
	checkGPX(t, w.Body.Bytes())
	var f gpx
	require.NoError(t, xml.Unmarshal(w.Body.Bytes(), &f))
	require.Contains(t, f.Trk.Desc, "DEMO")
	require.Contains(t, f.Trk.Desc, "Not for navigation")
	require.Len(t, f.Trk.Trkpt, 5)
	require.Len(t, f.Wpt, 4, "the start, and a reset after 40, 80 and 120 minutes")
	require.Equal(t, f.Trk.Trkpt[4].Lat, f.Wpt[3].Lat)
	require.Equal(t, "Reset 1", f.Wpt[1].Name)
	require.Equal(t, []float64{45, -80}, []float64{f.Wpt[0].Lat, f.Wpt[0].Lon})
	// At 45 degrees a degree of latitude has 111131.7 m and one of longitude
	// 78846.8 m on WGS 84 (from memory of the published tables of the lengths
	// of a degree).
	end := f.Trk.Trkpt[4]
	require.InDelta(t, 45+1000/111131.7, end.Lat, 1e-6)
	require.InDelta(t, -80+2000/78846.8, end.Lon, 1e-6)
	first, _ := d.board.Days[0].Trips[0].Call.Drift.Get()
	require.Equal(t, first.Track[0].At.UTC().Format(time.RFC3339), f.Trk.Trkpt[0].Time)
	require.Equal(t, http.StatusNotModified, ask(h, "GET", "/drift.gpx", "If-None-Match", w.Header().Get("ETag")).Code)
}

func TestTheTrackFromAnotherStart(t *testing.T) {
	d := driftDesk(t)
	h := newServer(t, d)
	w := ask(h, "GET", "/drift.gpx?east_nmi=1&hours=3")
	require.Equal(t, http.StatusOK, w.Code)
	checkGPX(t, w.Body.Bytes())
	var f gpx
	require.NoError(t, xml.Unmarshal(w.Body.Bytes(), &f))
	require.InDelta(t, -80+1852/78846.8, f.Wpt[0].Lon, 1e-5)
	require.NotEqual(t, http.StatusOK, ask(h, "GET", "/drift.gpx?hours=99").Code)
	require.Equal(t, http.StatusNotFound, ask(h, "GET", "/drift.gpx?date=2031-01-01").Code)
	d.board.Days[0].Trips[0].Call.Drift = models.Unknown[models.Drift]()
	require.Equal(t, http.StatusNotFound, ask(newServer(t, d), "GET", "/drift.gpx").Code)
}

// Across the date line the schema wants [-180, 180).
func TestTheTrackStaysOnTheGlobe(t *testing.T) {
	for lon, ok := range map[float64]bool{179.999: true, -179.999: true} {
		d := driftDesk(t)
		d.board.Grounds[0].At.Lon, d.board.Days[0].Trips[0].Call.Ground.At.Lon = lon, lon
		w := ask(newServer(t, d), "GET", "/drift.gpx")
		require.Equal(t, ok, w.Code == http.StatusOK)
		checkGPX(t, w.Body.Bytes())
	}
}
