package ndbc

import (
	"bytes"
	"cmp"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// StationInfo is one station of the list of active ones.
type StationInfo struct {
	// ID is in capitals, as the data files are named.
	ID                         string
	At                         models.Position
	Name, Owner, Program, Type string
	// Met and Currents tell whether it has reported lately; a station that
	// has not may have the sensors all the same.
	Met, Currents models.Opt[bool]
}

// ParseStations reads the list of active stations (activestations.xml), in
// its order. Stations without a readable id or position are told as oddities.
func ParseStations(data []byte) ([]StationInfo, []Oddity, error) {
	var odd tally
	var out []StationInfo
	d := xml.NewDecoder(bytes.NewReader(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))))
	d.Entity = xml.HTMLEntity
	found := false
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, odd, fmt.Errorf("read the list of stations: %w", err)
		}
		el, ok := tok.(xml.StartElement)
		if !ok {
			continue
		}
		line, _ := d.InputPos()
		switch el.Name.Local {
		case "stations":
			found = true
		case "station":
			if s, ok := stationInfo(el.Attr); ok && found {
				out = append(out, s)
			} else {
				odd.add("station without a readable id or position", line)
			}
		}
	}
	if len(out) == 0 {
		return nil, odd, errors.New("read the list of stations: there is none in it")
	}
	return out, odd, nil
}

func stationInfo(attrs []xml.Attr) (StationInfo, bool) {
	a := map[string]string{}
	for _, x := range attrs {
		a[x.Name.Local] = models.PlainLine(x.Value)
	}
	lat, errLat := strconv.ParseFloat(a["lat"], 64)
	lon, errLon := strconv.ParseFloat(a["lon"], 64)
	s := StationInfo{
		ID: strings.ToUpper(a["id"]), At: models.Position{Lat: lat, Lon: lon},
		Name: a["name"], Owner: a["owner"], Program: a["pgm"], Type: a["type"],
		Met: yesNo(a["met"]), Currents: yesNo(a["currents"]),
	}
	return s, ValidID(s.ID) && errLat == nil && errLon == nil && s.At.Valid()
}

func yesNo(s string) models.Opt[bool] {
	switch s {
	case "y":
		return models.Known(true)
	case "n":
		return models.Known(false)
	}
	return models.Unknown[bool]()
}

// ValidID tells whether s can be the id of a station: 3 to 8 letters and
// digits.
func ValidID(s string) bool {
	if len(s) < 3 || len(s) > 8 {
		return false
	}
	for _, r := range s {
		if (r < '0' || r > '9') && (r < 'A' || r > 'Z') && (r < 'a' || r > 'z') {
			return false
		}
	}
	return true
}

// Neighbour is a station and how far away it is.
type Neighbour struct {
	StationInfo
	Distance units.Length
}

// Nearest lists the n stations nearest to a place, the nearest first.
func Nearest(stations []StationInfo, place models.Position, n int) []Neighbour {
	var all []Neighbour
	for _, s := range stations {
		all = append(all, Neighbour{s, distance(place, s.At)})
	}
	slices.SortStableFunc(all, func(a, b Neighbour) int {
		return cmp.Or(cmp.Compare(a.Distance, b.Distance), cmp.Compare(a.ID, b.ID))
	})
	return all[:min(max(n, 0), len(all))]
}

// distance is the length of the great circle on a sphere of 6371 km radius,
// by the haversine formula; within 0.6 % of the ellipsoid's.
func distance(a, b models.Position) units.Length {
	const rad = math.Pi / 180
	sLat, sLon := math.Sin((b.Lat-a.Lat)*rad/2), math.Sin((b.Lon-a.Lon)*rad/2)
	h := sLat*sLat + math.Cos(a.Lat*rad)*math.Cos(b.Lat*rad)*sLon*sLon
	return units.Length(2*6371*math.Asin(math.Sqrt(min(1, h)))) * units.Kilometre
}

// averaging is how long a station averages its wind: 8 minutes on buoys,
// which have numbers, 2 minutes ashore (Reference: NDBCMeasurements).
func averaging(id string, o models.Observation) models.Opt[time.Duration] {
	if !o.Wind.Known() {
		return models.Unknown[time.Duration]()
	}
	if strings.Trim(id, "0123456789") == "" {
		return models.Known(8 * time.Minute)
	}
	return models.Known(2 * time.Minute)
}
