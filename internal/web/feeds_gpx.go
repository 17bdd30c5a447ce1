package web

import (
	"encoding/xml"
	"fmt"
	"math"
	"net/http"
	"strconv"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// trackRoutes are the drift for a plotter.
func (s *Server) trackRoutes() []route {
	return []route{{Pattern: "GET /drift.gpx", Raw: s.serveTrack}}
}

type (
	// gpxFile is GPX 1.1 (schema http://www.topografix.com/GPX/1/1/gpx.xsd);
	// elements stand in the schema's order.
	gpxFile struct {
		XMLName  xml.Name    `xml:"http://www.topografix.com/GPX/1/1 gpx"`
		Version  string      `xml:"version,attr"`
		Creator  string      `xml:"creator,attr"`
		Metadata gpxMetadata `xml:"metadata"`
		Points   []gpxPoint  `xml:"wpt"`
		Track    gpxTrack    `xml:"trk"`
	}
	gpxMetadata struct {
		Name string `xml:"name"`
		Desc string `xml:"desc"`
		Time string `xml:"time"`
	}
	gpxPoint struct {
		Lat  gpxDegrees `xml:"lat,attr"`
		Lon  gpxDegrees `xml:"lon,attr"`
		Time string     `xml:"time"`
		Name string     `xml:"name,omitempty"`
		Desc string     `xml:"desc,omitempty"`
	}
	gpxTrack struct {
		Name   string     `xml:"name"`
		Desc   string     `xml:"desc"`
		Points []gpxPoint `xml:"trkseg>trkpt"`
	}
	gpxDegrees float64
)

// MarshalText writes degrees to about a decimetre.
func (d gpxDegrees) MarshalText() ([]byte, error) {
	return strconv.AppendFloat(nil, float64(d), 'f', 6, 64), nil
}

// serveTrack answers the drift that the page of the drift shows for the same
// query.
func (s *Server) serveTrack(v *view, w http.ResponseWriter) error {
	b, day, start, err := v.driftAsk()
	if err != nil {
		return err
	}
	drift, err := v.driftFor(b, day, start)
	if err != nil {
		return err
	}
	if len(drift.Track) == 0 {
		return ErrNotFound
	}
	ground := groundOf(b, day.Trips[0].Call, start.Ground)
	body := v.track(b, ground, start.Date, drift)
	w.Header().Set("Vary", "Cookie")
	body.Tag, body.Cache, body.Name = tagOf(body.Bytes), "no-cache", "drift-"+start.Date.String()+".gpx"
	answer(w, v.Request, body)
	return nil
}

// track writes a drift as a track, with waypoints for the start and for where
// the baits are to be reset.
func (v *view) track(b Board, g models.Ground, date models.Date, d models.Drift) body {
	t := v.Tell(date)
	name := v.T("track.name", g.Name, date)
	wide := d.Track[len(d.Track)-1].SpreadRadius
	desc := v.T("track.desc", t.Speed(d.Speed), d.Toward.Point(), t.Length(wide)) + " " + v.T("caution.rule")
	if b.Demo {
		desc = v.DemoNotice() + " " + desc
	}
	f := gpxFile{Version: "1.1", Creator: "forecastd", Metadata: gpxMetadata{Name: name, Desc: desc, Time: stamp(b.Made)}, Track: gpxTrack{Name: name, Desc: desc}}
	point := func(p models.DriftPoint, name, desc string) gpxPoint {
		at := offset(g.At, p.East, p.North)
		return gpxPoint{Lat: gpxDegrees(at.Lat), Lon: gpxDegrees(at.Lon), Time: stamp(p.At), Name: name, Desc: desc}
	}
	first, last := d.Track[0], d.Track[len(d.Track)-1]
	f.Points = append(f.Points, point(first, v.T("track.start"), v.T("track.depth", t.Length(d.StartDepth))))
	if every, ok := d.ResetEvery.Get(); ok && every > 0 {
		for n := 1; !first.At.Add(time.Duration(n) * every).After(last.At); n++ {
			p := along(d.Track, first.At.Add(time.Duration(n)*every))
			f.Points = append(f.Points, point(p, v.T("track.reset", n), v.T("track.within", t.Length(p.SpreadRadius))))
		}
	}
	for _, p := range d.Track {
		f.Track.Points = append(f.Track.Points, point(p, "", ""))
	}
	out, err := xml.MarshalIndent(f, "", " ")
	if err != nil { // the file holds nothing that XML can't
		panic(fmt.Sprintf("write the track: %v", err))
	}
	return body{Type: "application/gpx+xml", Bytes: append([]byte(xml.Header), append(out, '\n')...)}
}

// along is the place at an instant between the first point and the last, on
// the straight line between its neighbours.
func along(track []models.DriftPoint, at time.Time) models.DriftPoint {
	for i := 1; i < len(track); i++ {
		p, q := track[i-1], track[i]
		if at.After(q.At) || !q.At.After(p.At) {
			continue
		}
		share := float64(at.Sub(p.At)) / float64(q.At.Sub(p.At))
		mid := func(a, b units.Length) units.Length { return a + units.Length(share)*(b-a) }
		return models.DriftPoint{At: at, East: mid(p.East, q.East), North: mid(p.North, q.North), SpreadRadius: mid(p.SpreadRadius, q.SpreadRadius)}
	}
	return track[len(track)-1]
}

// offset is the place so far east and north of another, for distances of up
// to some tens of miles, by the radii of curvature of the WGS 84 ellipsoid at
// the place (NIMA TR8350.2, third edition, 2000).
func offset(from models.Position, east, north units.Length) models.Position {
	const a, e2 = 6378137.0, 6.69437999014e-3
	sin := math.Sin(from.Lat * math.Pi / 180)
	w := 1 - e2*sin*sin
	meridian, normal := a*(1-e2)/(w*math.Sqrt(w)), a/math.Sqrt(w)
	lat := from.Lat + north.Metres()/meridian*180/math.Pi
	lon := from.Lon + east.Metres()/(normal*math.Cos(from.Lat*math.Pi/180))*180/math.Pi
	lon = math.Mod(lon+540, 360) - 180 // the schema wants [-180, 180)
	if lon < -180 {
		lon += 360
	}
	return models.Position{Lat: lat, Lon: lon}
}
