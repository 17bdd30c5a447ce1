package nws

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strings"
	"time"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// CoastalName is the name of the source of the coastal waters forecast.
const CoastalName = models.SourceCoastalText

// CoastalSource is the fetch.Source of the coastal waters forecast, verbatim.
type CoastalSource struct {
	client       Getter
	base, office string
	zones        []string
	now          func() time.Time
}

// CoastalText makes the source for an office ("MFL") and some of its zones.
func CoastalText(client Getter, base, office string, zones []string, now func() time.Time) *CoastalSource {
	return &CoastalSource{client: client, base: trimBase(base), office: office, zones: unique(zones), now: now}
}

// Name is "nws coastal text".
func (s *CoastalSource) Name() string { return CoastalName }

// MaxAge lets one of the office's issues be missed.
func (s *CoastalSource) MaxAge() time.Duration { return 12 * time.Hour }

// Oldest is long enough for an office to miss several of its issues.
func (s *CoastalSource) Oldest() time.Duration { return 36 * time.Hour }

// newestProducts is how many products are read for zones that the newest
// lacks: a correction may hold only some.
const newestProducts = 3

// Fetch asks for the office's newest coastal waters forecasts and keeps the
// newest text for each zone.
func (s *CoastalSource) Fetch(ctx context.Context) (fetch.Batch, error) {
	if !isOffice(s.office) {
		return fetch.Batch{}, &models.Error{Kind: models.KindBadConfig, Source: CoastalName,
			Err: fmt.Errorf("%q is no forecast office: write it as three letters", s.office)}
	}
	if len(s.zones) == 0 {
		return fetch.Batch{}, &models.Error{Kind: models.KindBadConfig, Source: CoastalName, Err: errors.New("no zones are configured")}
	}
	list, err := s.list(ctx)
	if err != nil {
		return fetch.Batch{}, err
	}
	var batch fetch.Batch
	found := map[string]bool{}
	var failed error
	for _, item := range list[:min(len(list), newestProducts)] {
		if len(found) == len(s.zones) {
			break
		}
		if err := s.product(ctx, item, found, &batch); err != nil {
			if ctx.Err() != nil {
				return fetch.Batch{}, err
			}
			if failed == nil { // the newest one's failure tells most
				failed = err
			}
			batch.Notes = append(batch.Notes, fmt.Sprintf("a coastal waters forecast of %s can't be had: %v", s.office, err))
		}
	}
	if len(batch.Texts) == 0 && failed != nil {
		return fetch.Batch{}, failed
	}
	var lacking []string
	for _, z := range s.zones {
		if !found[z] {
			lacking = append(lacking, z)
		}
	}
	if len(batch.Texts) == 0 {
		return fetch.Batch{}, &models.Error{Kind: models.KindBadContent, Source: CoastalName, URL: s.listURL(),
			Err: fmt.Errorf("the coastal waters forecast of %s has nothing for %s", s.office, strings.Join(lacking, ", "))}
	}
	if len(lacking) > 0 {
		batch.Notes = append(batch.Notes, fmt.Sprintf("the coastal waters forecast of %s has nothing for %s", s.office, strings.Join(lacking, ", ")))
	}
	sort.SliceStable(batch.Texts, func(i, j int) bool {
		return slices.Index(s.zones, batch.Texts[i].Zone) < slices.Index(s.zones, batch.Texts[j].Zone)
	})
	return batch, nil
}

// product reads one product and adds its texts for the zones not found yet.
func (s *CoastalSource) product(ctx context.Context, item listed, found map[string]bool, batch *fetch.Batch) error {
	resp, err := s.client.Get(ctx, httpx.Request{
		Source: CoastalName, URL: s.base + "/products/" + item.id,
		Accept: "application/ld+json", Want: httpx.JSON, Conditional: true, Oldest: oldestCopy,
	})
	if err != nil {
		return err
	}
	var doc object
	if err := json.Unmarshal(resp.Body, &doc); err != nil {
		return resp.Bad(fmt.Errorf("read product: %w", err))
	}
	text := doc.text("productText")
	if text == "" {
		return resp.Bad(errors.New("read product: it has no text"))
	}
	c, err := ParseCoastal(text, doc.time("issuanceTime").Or(item.issued))
	if err != nil {
		return resp.Bad(err)
	}
	batch.Notes = append(batch.Notes, c.Notes...)
	var newest time.Time
	for _, t := range c.Texts {
		if !slices.Contains(s.zones, t.Zone) || found[t.Zone] {
			continue
		}
		found[t.Zone] = true
		t.From = models.Provenance{Source: CoastalName, Detail: t.Zone, Issued: t.Issued, Fetched: resp.FetchedAt}
		batch.Texts = append(batch.Texts, t)
		if t.Issued.After(newest) {
			newest = t.Issued
		}
		if at, ok := t.Expires.Get(); ok && s.now().After(at) {
			batch.Notes = append(batch.Notes, fmt.Sprintf("the coastal waters forecast for %s was to be replaced at %s", t.Zone, at.Format("15:04 UTC on 2 January")))
		}
	}
	if !newest.IsZero() {
		batch.From = append(batch.From, models.Provenance{Source: CoastalName, Detail: "CWF" + s.office, Issued: newest, Fetched: resp.FetchedAt})
	}
	return nil
}

func (s *CoastalSource) listURL() string {
	return s.base + "/products/types/CWF/locations/" + s.office
}

// listed is a product in the service's list.
type listed struct {
	id     string
	issued time.Time
}

// list answers the office's products, the newest first.
func (s *CoastalSource) list(ctx context.Context) ([]listed, error) {
	resp, err := s.client.Get(ctx, httpx.Request{
		Source: CoastalName, URL: s.listURL(), Accept: "application/ld+json", Want: httpx.JSON, Conditional: true, Oldest: oldestCopy,
	})
	if err != nil {
		return nil, err
	}
	var doc struct {
		Graph []object `json:"@graph"`
	}
	if err := json.Unmarshal(resp.Body, &doc); err != nil {
		return nil, resp.Bad(fmt.Errorf("read list of products: %w", err))
	}
	if doc.Graph == nil {
		return nil, resp.Bad(errors.New("read list of products: the answer has no list"))
	}
	id := regexp.MustCompile(`^[A-Za-z0-9-]{1,64}$`)
	var out []listed
	for _, o := range doc.Graph {
		issued, ok := o.time("issuanceTime").Get()
		if ok && id.MatchString(o.text("id")) {
			out = append(out, listed{o.text("id"), issued})
		}
	}
	if len(out) == 0 {
		return nil, resp.Fail(models.KindNotFound, fmt.Errorf("the service holds no coastal waters forecast of %s", s.office))
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].issued.After(out[j].issued) })
	return out, nil
}

var _ fetch.Source = (*CoastalSource)(nil)
