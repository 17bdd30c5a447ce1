package coops

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"net/url"
	"strings"

	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// StationInfo is what the service knows of a station.
type StationInfo struct {
	ID, Name string
	At       models.Position
}

var errNoStation = errors.New("there is no such station")

// ParseStation reads the description of one station.
func ParseStation(data []byte) (StationInfo, error) {
	var doc struct {
		Stations []struct {
			ID, Name string
			Lat, Lng number
		}
	}
	if err := decode(data, &doc); err != nil {
		return StationInfo{}, err
	}
	if doc.Stations == nil {
		return StationInfo{}, errors.New("find the station: this is no list of stations")
	}
	if len(doc.Stations) == 0 {
		return StationInfo{}, errNoStation
	}
	s := doc.Stations[0]
	lat, okLat := s.Lat.Get()
	lon, okLon := s.Lng.Get()
	info := StationInfo{ID: s.ID, Name: models.PlainLine(s.Name), At: models.Position{Lat: lat, Lon: lon}}
	if !ValidID(s.ID) || !okLat || !okLon || !info.At.Valid() {
		return StationInfo{}, fmt.Errorf("read station %q: its id or position makes no sense", s.ID)
	}
	return info, nil
}

// FetchStation looks a station up. One that does not exist is an error of
// KindNotFound.
func FetchStation(ctx context.Context, c *httpx.Client, base, id string) (StationInfo, error) {
	if !ValidID(id) {
		return StationInfo{}, &models.Error{Kind: models.KindBadConfig, Source: Name, Err: fmt.Errorf("station %q: an id has 3 to 12 letters, digits and underscores", id)}
	}
	resp, err := c.Get(ctx, httpx.Request{
		Source: Name, URL: strings.TrimSuffix(cmp.Or(base, BaseURL), "/") + "/mdapi/prod/webapi/stations/" + url.PathEscape(id) + ".json",
		Accept: "application/json", Want: httpx.JSON, MaxBytes: maxBody, Conditional: true,
	})
	if err != nil {
		return StationInfo{}, err
	}
	s, err := ParseStation(resp.Body)
	if errors.Is(err, errNoStation) {
		return StationInfo{}, resp.Fail(models.KindNotFound, err)
	}
	if err != nil {
		return StationInfo{}, fail(resp, err)
	}
	if !strings.EqualFold(s.ID, id) {
		return StationInfo{}, resp.Bad(fmt.Errorf("asked for station %s, got %s", id, s.ID))
	}
	return s, nil
}
