package nws

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// Zone is what the service says about a forecast zone.
type Zone struct {
	ID string
	// Name is the official name, Type the kind of zone: "coastal".
	Name, Type string
	// Offices are those that forecast for it, "MFL".
	Offices   []string
	TimeZones []string
}

// ParseZone reads the answer about a zone.
func ParseZone(body []byte) (Zone, error) {
	var doc struct{ Properties object }
	if err := json.Unmarshal(body, &doc); err != nil {
		return Zone{}, fmt.Errorf("read zone: %w", err)
	}
	p := doc.Properties
	z := Zone{
		ID: p.line("id"), Name: p.line("name"), Type: p.line("type"),
		Offices: p.texts("cwa"), TimeZones: p.texts("timeZone"),
	}
	if z.ID == "" || z.Name == "" {
		return Zone{}, errors.New("read zone: the answer has no id and name")
	}
	return z, nil
}

// LookupZone asks for a zone by its id. It is how a mistyped id is found: the
// alerts service answers an id that it does not know with no alerts at all.
func LookupZone(ctx context.Context, client Getter, base, id string) (Zone, error) {
	const source = "nws zones"
	kind := "forecast"
	if len(id) > 2 && id[2] == 'C' {
		kind = "county"
	}
	if !IsZone(id) {
		return Zone{}, &models.Error{Kind: models.KindBadConfig, Source: source,
			Err: fmt.Errorf("%q is no zone: write it as two letters, Z and three digits", id)}
	}
	resp, err := client.Get(ctx, httpx.Request{
		Source: source, URL: fmt.Sprintf("%s/zones/%s/%s", trimBase(base), kind, id),
		Accept: "application/geo+json", Want: httpx.JSON, Conditional: true,
	})
	if err != nil {
		return Zone{}, explain(err, models.KindNotFound,
			fmt.Sprintf("the service knows no zone %s, so no warning for it could ever be seen", id))
	}
	z, err := ParseZone(resp.Body)
	if err != nil {
		return Zone{}, resp.Bad(err)
	}
	if !strings.EqualFold(z.ID, id) {
		return Zone{}, resp.Bad(fmt.Errorf("asked for zone %s and got %s", id, z.ID))
	}
	return z, nil
}
