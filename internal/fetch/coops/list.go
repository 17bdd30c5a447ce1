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

// Offer is what a list of stations is asked for.
type Offer string

// Offers.
const (
	TidePredictions   Offer = "tidepredictions"
	StreamPredictions Offer = "currentpredictions"
)

// Listed is one station of a list of those that have predictions.
type Listed struct {
	StationInfo
	// Bin is the depth bin of a stream, 0 for tides.
	Bin int
}

// maxList bounds a list: the longest has some 4400 rows of 800 bytes.
const maxList = 16 << 20

// ParseStations reads a list of stations, in its order, each id once. Of a
// stream's depth bins the first is taken, which the service puts there as the
// primary one; streams that are weak and variable have no usable predictions
// and are left out.
func ParseStations(data []byte) ([]Listed, []Oddity, error) {
	var doc struct {
		Stations []struct {
			ID, Name, Type string
			Lat, Lng       number
			CurrBin        number
		}
	}
	if err := decode(data, &doc); err != nil {
		return nil, nil, err
	}
	if doc.Stations == nil {
		return nil, nil, errors.New("read the list of stations: this is no list of stations")
	}
	unreadable, weak := 0, 0
	var list []Listed
	seen := map[string]bool{}
	for _, row := range doc.Stations {
		lat, okLat := row.Lat.Get()
		lon, okLon := row.Lng.Get()
		s := Listed{StationInfo: StationInfo{ID: row.ID, Name: models.PlainLine(row.Name), At: models.Position{Lat: lat, Lon: lon}}}
		bin := row.CurrBin.Or(0)
		switch {
		case !ValidID(row.ID) || !okLat || !okLon || !s.At.Valid() || bin < 0 || bin > 1000 || bin != float64(int(bin)):
			unreadable++
			continue
		case row.Type == "W":
			weak++
			continue
		case seen[row.ID]:
			continue
		}
		seen[row.ID] = true
		s.Bin = int(bin)
		list = append(list, s)
	}
	var odd []Oddity
	if unreadable > 0 {
		odd = append(odd, Oddity{"station without a readable id, position or bin", unreadable})
	}
	if weak > 0 {
		odd = append(odd, Oddity{"stream too weak and variable to predict", weak})
	}
	if len(list) == 0 {
		return nil, odd, errors.New("read the list of stations: there is none in it")
	}
	return list, odd, nil
}

// FetchStations gets the list of all stations that offer something.
func FetchStations(ctx context.Context, c *httpx.Client, base string, offer Offer) ([]Listed, error) {
	resp, err := c.Get(ctx, httpx.Request{
		Source: Name, URL: strings.TrimSuffix(cmp.Or(base, BaseURL), "/") + "/mdapi/prod/webapi/stations.json",
		Query:  url.Values{"type": {string(offer)}},
		Accept: "application/json", Want: httpx.JSON, MaxBytes: maxList, Conditional: true,
	})
	if err != nil {
		return nil, err
	}
	list, _, err := ParseStations(resp.Body)
	if err != nil {
		return nil, fail(resp, fmt.Errorf("%s: %w", offer, err))
	}
	return list, nil
}
