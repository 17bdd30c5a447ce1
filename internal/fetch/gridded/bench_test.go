package gridded

import (
	"context"
	"fmt"
	"net/http"
	"runtime"
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

// tenDays is the wave model's run of ten days in memory.
func tenDays(b *testing.B, p Product) memory {
	service := newWaves(b)
	m := memory{}
	for _, lead := range p.leadsFor(newest(), models.Interval{Start: newest(), End: newest().Add(240 * time.Hour)}) {
		at := p.address(spot{area: "atlocn.0p16"}, newest(), lead)
		m[at] = retime(service.body, newest(), lead)
		m[at+".idx"] = []byte(service.inventory(asked{run: newest(), lead: lead}))
	}
	return m
}

// BenchmarkShare reads ten days of waves for so many ports at once, and then a
// series for each, and tells what is kept of them.
func BenchmarkShare(b *testing.B) {
	p := product(b, "gfs-wave")
	m := tenDays(b, p)
	for _, n := range []int{1, 100, 1000, 10000} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			ports := make([]Port, n)
			for i := range ports {
				ports[i].Places = []Place{{At: models.Position{Lat: 15 + 25*float64(i%100)/100, Lon: -76 + 20*float64(i/100)/100}}}
			}
			var before, after runtime.MemStats
			for b.Loop() {
				runtime.GC()
				runtime.ReadMemStats(&before)
				list, _ := Share(m, Options{Product: p, Horizon: 240 * time.Hour, Now: now}, ports)
				for _, v := range list {
					if _, err := v.Fetch(b.Context()); err != nil && kind(err) != models.KindBadConfig {
						b.Fatal(err)
					}
				}
				runtime.GC()
				runtime.ReadMemStats(&after)
				runtime.KeepAlive(list)
			}
			b.ReportMetric(float64(after.HeapAlloc-before.HeapAlloc)/1e6, "MB-kept")
		})
	}
}

// BenchmarkFetch240Hours reads ten days of waves for one ground: 81 files, of
// each an inventory and three ranges.
func BenchmarkFetch240Hours(b *testing.B) {
	p := product(b, "gfs-wave")
	m := tenDays(b, p)
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
