package nws

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// Point is what the service says about a position.
type Point struct {
	// Office and the grid's indices name the cell of the forecast grid.
	Office       string
	GridX, GridY int
	// Zone is the forecast zone, "AMZ651".
	Zone string
	// TimeZone is the IANA name.
	TimeZone string
	// Marine tells sea from land, as far as the service says.
	Marine models.Opt[bool]
}

// ParsePoint reads the answer about a position.
func ParsePoint(body []byte) (Point, error) {
	var doc struct{ Properties object }
	if err := json.Unmarshal(body, &doc); err != nil {
		return Point{}, fmt.Errorf("read point: %w", err)
	}
	p := doc.Properties
	pt := Point{
		Office: p.line("gridId"), GridX: p.integer("gridX").Or(-1), GridY: p.integer("gridY").Or(-1),
		Zone: lastPart(p.line("forecastZone")), TimeZone: p.line("timeZone"),
	}
	if !isOffice(pt.Office) || pt.GridX < 0 || pt.GridY < 0 {
		return Point{}, errors.New("read point: the answer names no cell of the forecast grid")
	}
	switch p.line("type") {
	case "marine":
		pt.Marine = models.Known(true)
	case "land":
		pt.Marine = models.Known(false)
	}
	return pt, nil
}

func lastPart(url string) string { return url[strings.LastIndexByte(url, '/')+1:] }

// isOffice tells whether s is written like a forecast office, "MFL".
func isOffice(s string) bool {
	if len(s) != 3 {
		return false
	}
	for _, r := range s {
		if r < 'A' || r > 'Z' {
			return false
		}
	}
	return true
}

// coordinate writes degrees as the service wants them: four decimals at most
// and no trailing zeros, else it answers with a redirect.
func coordinate(degrees float64) string {
	rounded := math.Round(degrees*1e4) / 1e4
	if rounded == 0 {
		rounded = 0 // not -0
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// LookupPoint asks which zone and cell of the grid a position is in.
func LookupPoint(ctx context.Context, client Getter, base string, at models.Position) (Point, error) {
	return lookupPoint(ctx, client, base, at, "nws points")
}

func lookupPoint(ctx context.Context, client Getter, base string, at models.Position, source string) (Point, error) {
	if !at.Valid() {
		return Point{}, &models.Error{Kind: models.KindBadConfig, Source: source, Err: fmt.Errorf("%v is no position", at)}
	}
	resp, err := client.Get(ctx, httpx.Request{
		Source: source, URL: fmt.Sprintf("%s/points/%s,%s", trimBase(base), coordinate(at.Lat), coordinate(at.Lon)),
		Accept: "application/geo+json", Want: httpx.JSON, Conditional: true,
	})
	if err != nil {
		return Point{}, explain(err, models.KindNotFound, "the service has no forecast grid at this position")
	}
	p, err := ParsePoint(resp.Body)
	if err != nil {
		return Point{}, resp.Bad(err)
	}
	return p, nil
}

// explain puts plain words before what the service said, for errors of one
// kind.
func explain(err error, kind models.Kind, words string) error {
	var e *models.Error
	if !errors.As(err, &e) || e.Kind != kind {
		return err
	}
	c := *e
	c.Err = errors.New(words)
	if e.Err != nil {
		c.Err = fmt.Errorf("%s: %w", words, e.Err)
	}
	return &c
}
