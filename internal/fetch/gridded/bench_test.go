package gridded

import (
	"context"
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

func BenchmarkReadHours(b *testing.B) {
	raw := realFile(b, waveFile)
	p := product(b, "gfs-wave")
	fields := read(b, raw)
	for name, n := range map[string]int{"one place": 1, "100 places": 100} {
		var places []Place
		for i := range n {
			places = append(places, Place{At: models.Position{Lat: 24 + float64(i%10), Lon: -79 + float64(i/10)}})
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				readHours(p, fields, places)
			}
		})
	}
}

// memory answers from memory, so that a benchmark measures no network.
type memory map[string][]byte

func (m memory) Get(_ context.Context, req httpx.Request) (*httpx.Response, error) {
	r := &httpx.Response{Status: http.StatusOK, Header: http.Header{}, FetchedAt: now(), URL: req.URL, Body: m[req.URL]}
	if req.Range != nil {
		r.Status = http.StatusPartialContent
		total := int64(len(r.Body))
		r.Header.Set("Content-Range", contentRange(req.Range.Start, req.Range.End, total))
		r.Body = r.Body[req.Range.Start : req.Range.End+1]
	}
	return r, nil
}

// BenchmarkFetch240Hours reads ten days of waves for one ground: 81 files, of
// each an inventory and three ranges.
func BenchmarkFetch240Hours(b *testing.B) {
	p := product(b, "gfs-wave")
	service := newWaves(b)
	m := memory{}
	for _, lead := range p.leadsFor(newest(), models.Interval{Start: newest(), End: newest().Add(240 * time.Hour)}) {
		at := p.address(spot{area: "atlocn.0p16"}, newest(), lead)
		m[at] = retime(service.body, newest(), lead)
		m[at+".idx"] = []byte(service.inventory(asked{run: newest(), lead: lead}))
	}
	b.ReportAllocs()
	for b.Loop() {
		s, err := New(m, Options{
			Product: p, Places: []Place{{Ground: "the edge", At: offshore()}},
			Horizon: 234 * time.Hour, Now: now,
		})
		require.NoError(b, err)
		got, err := s.Fetch(b.Context())
		require.NoError(b, err)
		require.Len(b, got.Series[0].Hours, 80)
		b.ReportMetric(float64(s.Bytes())/1e6, "MB/fetch")
	}
}

func contentRange(start, end, total int64) string {
	return fmt.Sprintf("bytes %d-%d/%d", start, end, total)
}
