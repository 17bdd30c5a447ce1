package app_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"net/http"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/fetch/grib2/encode"
	"forecastd/internal/models"
)

// ocean answers as the service of the wave model does, with one invented field
// for every hour, out of memory.
type ocean struct {
	body  []byte
	lines []string // of the inventory, with %s for the run and the window
	asked int
	mu    sync.Mutex
}

// oceanPart is a message of a file, in the names of its inventory.
type oceanPart struct {
	name, level string
	field       encode.Field
	discipline  int
	value       func(lat, lon float64) float64
}

func oceanParts() []oceanPart {
	surface, first := encode.Surface{Type: 1, Value: 1}, encode.Surface{Type: 241, Value: 1}
	wave := func(base, swing float64) func(lat, lon float64) float64 {
		return func(lat, lon float64) float64 { return base + swing*math.Sin(lat)*math.Cos(lon) }
	}
	return []oceanPart{
		{"UGRD", "surface", encode.Field{Category: 2, Number: 2, Surface: surface}, 0, wave(2, 5)},
		{"VGRD", "surface", encode.Field{Category: 2, Number: 3, Surface: surface}, 0, wave(-4, 5)},
		{"HTSGW", "surface", encode.Field{Category: 0, Number: 3, Surface: surface}, 10, wave(1.2, 0.6)},
		{"PERPW", "surface", encode.Field{Category: 0, Number: 11, Surface: surface}, 10, wave(6, 1)},
		{"DIRPW", "surface", encode.Field{Category: 0, Number: 10, Surface: surface}, 10, wave(120, 40)},
		{"SWELL", "1 in sequence", encode.Field{Category: 0, Number: 8, Surface: first}, 10, wave(0.6, 0.2)},
		{"SWPER", "1 in sequence", encode.Field{Category: 0, Number: 9, Surface: first}, 10, wave(9, 1)},
		{"SWDIR", "1 in sequence", encode.Field{Category: 0, Number: 7, Surface: first}, 10, wave(90, 20)},
	}
}

// newOcean fills the western Atlantic, 0 to 55 N and 100 to 50 W, at the sixth
// of a degree that the real product has.
func newOcean(t testing.TB) *ocean {
	t.Helper()
	g := encode.LatLon{Ni: 301, Nj: 331, FirstLat: 55, FirstLon: 260, Di: 1.0 / 6, Dj: 1.0 / 6, Scan: 0}
	run := time.Date(2027, 1, 18, 12, 0, 0, 0, time.UTC)
	s := &ocean{}
	for i, p := range oceanParts() {
		f := p.field
		f.Grid, f.Start, f.End, f.Packing = g, run, run, encode.Packing{Template: 3, Decimal: 2, Order: 2}
		for j := range g.Nj {
			for k := range g.Ni {
				f.Values = append(f.Values, p.value((55-float64(j)/6)*0.2, float64(k)/30))
			}
		}
		b, err := encode.Message{Discipline: p.discipline, Centre: 7, Run: run, Fields: []encode.Field{f}}.Bytes()
		require.NoError(t, err)
		s.lines = append(s.lines, fmt.Sprintf("%d:%d:d=%%s:%s:%s:%%s:\n", i+1, len(s.body), p.name, p.level))
		s.body = append(s.body, b...)
	}
	return s
}

func (s *ocean) RoundTrip(r *http.Request) (*http.Response, error) {
	s.mu.Lock()
	s.asked++
	s.mu.Unlock()
	m := regexp.MustCompile(`/gfs\.(\d{8})/(\d\d)/wave/gridded/gfswave\.t\d\dz\.atlocn\.0p16\.f(\d{3})\.grib2(\.idx)?$`).FindStringSubmatch(r.URL.Path)
	if m == nil {
		return response(r, http.StatusNotFound, ""), nil
	}
	run, err := time.Parse("2006010215", m[1]+m[2])
	if err != nil {
		return nil, err
	}
	lead, err := strconv.Atoi(m[3])
	if err != nil {
		return nil, err
	}
	if m[4] != "" {
		window := fmt.Sprintf("%d hour fcst", lead)
		if lead == 0 {
			window = "anl"
		}
		var b strings.Builder
		for _, l := range s.lines {
			fmt.Fprintf(&b, l, m[1]+m[2], window)
		}
		return respond(r, http.StatusOK, "text/plain", []byte(b.String())), nil
	}
	body := bytes.Clone(s.body)
	restamp(body, run, lead)
	var from, to int
	if n, _ := fmt.Sscanf(r.Header.Get("Range"), "bytes=%d-%d", &from, &to); n < 2 {
		to = len(body) - 1
	}
	resp := respond(r, http.StatusPartialContent, "application/octet-stream", body[from:to+1])
	resp.Header.Set("Content-Range", fmt.Sprintf("bytes %d-%d/%d", from, to, len(body)))
	return resp, nil
}

func respond(r *http.Request, status int, kind string, b []byte) *http.Response {
	return &http.Response{StatusCode: status, Request: r, ContentLength: int64(len(b)), Header: http.Header{"Content-Type": {kind}}, Body: io.NopCloser(bytes.NewReader(b))}
}

// restamp writes the run and the lead, in hours, into every message.
func restamp(b []byte, run time.Time, lead int) {
	for at := 0; at < len(b); {
		end := at + int(binary.BigEndian.Uint64(b[at+8:]))
		for sec := at + 16; sec+5 <= end-4; sec += int(binary.BigEndian.Uint32(b[sec:])) {
			switch b[sec+4] {
			case 1:
				binary.BigEndian.PutUint16(b[sec+12:], uint16(run.Year()))
				copy(b[sec+14:], []byte{byte(run.Month()), byte(run.Day()), byte(run.Hour()), 0, 0})
			case 4:
				binary.BigEndian.PutUint32(b[sec+18:], uint32(lead))
			}
		}
		at = end
	}
}

// manyPorts is the invented boat's configuration with as many ports, spread
// over the western Atlantic, on one shared grid.
func manyPorts(t testing.TB, n int) *config.Config {
	t.Helper()
	text := strings.ReplaceAll(daemonText, "  gridded: {use: no}\n", "  alerts: {use: no}\n  gridpoint: {use: no}\n  ndbc: {use: no}\n  gridded: {use: yes, products: [gfs-wave]}\n")
	cfg, err := config.Load("forecastd.yaml", []byte(text))
	require.NoError(t, err)
	one := cfg.Ports[0]
	cfg.Ports = nil
	for i := range n {
		p := one
		p.Name = fmt.Sprintf("Port %d", i)
		p.At = models.Position{Lat: 10 + 30*float64(i%100)/100, Lon: -78 + 26*float64(i/100)/100}
		p.Grounds = append([]config.Ground(nil), one.Grounds...)
		p.Grounds[0].At, p.Zones, p.Stations = p.At, nil, nil
		cfg.Ports = append(cfg.Ports, p)
	}
	return cfg
}

// BenchmarkPorts makes tomorrow's call for so many ports that share one grid,
// with the ten days ahead, in one process. To see that time grows with the
// number of ports alone, hold cpu-ms/port of the rows side by side: it is of
// the processor, for the clock on the wall also counts who else is at work.
//
//	go test ./internal/app -run '^$' -bench BenchmarkPorts -benchtime 1x -timeout 60m
func BenchmarkPorts(b *testing.B) {
	service := newOcean(b)
	for _, n := range []int{100, 1000, 10000} {
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			var busy time.Duration
			now := func() time.Time { return time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC) }
			for b.Loop() {
				service.asked = 0
				began := processorTime()
				a, err := app.New(app.Options{Config: manyPorts(b, n), Transport: service, Now: now})
				require.NoError(b, err)
				var peak uint64
				ports := make(chan string)
				var wg sync.WaitGroup
				for range runtime.GOMAXPROCS(0) {
					wg.Go(func() {
						for name := range ports {
							c, err := a.CallFor(b.Context(), app.CallRequest{Port: name})
							if err != nil || len(c.Call.Hours) == 0 {
								b.Errorf("%s: %d hours, %v", name, len(c.Call.Hours), err)
							}
						}
					})
				}
				for i := range n {
					ports <- fmt.Sprintf("Port %d", i)
					if i%(n/20) == 0 {
						var m runtime.MemStats
						runtime.ReadMemStats(&m)
						peak = max(peak, m.Sys-m.HeapReleased)
					}
				}
				close(ports)
				wg.Wait()
				busy += processorTime() - began
				require.NoError(b, a.Stop(b.Context()))
				b.ReportMetric(float64(peak)/1e6, "MB")
				b.ReportMetric(float64(service.asked), "requests")
			}
			b.ReportMetric(float64(busy.Milliseconds())/float64(b.N*n), "cpu-ms/port")
		})
	}
}

// lookAt makes the call of every port at a time, and tells what that took of
// the processor.
func lookAt(b *testing.B, a *app.App, ports int) time.Duration {
	began := processorTime()
	for i := range ports {
		c, err := a.CallFor(b.Context(), app.CallRequest{Port: fmt.Sprintf("Port %d", i), Date: models.Date{Year: 2027, Month: time.January, Day: 20}})
		require.NoError(b, err)
		require.NotEmpty(b, c.Call.Hours)
	}
	return processorTime() - began
}

// BenchmarkLookAgain looks at the same ports again a quarter of an hour later,
// with nothing new: cpu-ms/port is of that look, new-cpu-ms/port of the one
// before it.
//
//	go test ./internal/app -run '^$' -bench BenchmarkLookAgain -benchtime 1x
func BenchmarkLookAgain(b *testing.B) {
	const ports = 100
	service := newOcean(b)
	var first, again time.Duration
	for b.Loop() {
		at := time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
		a, err := app.New(app.Options{Config: manyPorts(b, ports), Transport: service, Now: func() time.Time { return at }})
		require.NoError(b, err)
		first += lookAt(b, a, ports)
		at = at.Add(15 * time.Minute)
		again += lookAt(b, a, ports)
		require.NoError(b, a.Stop(b.Context()))
	}
	b.ReportMetric(float64(first.Microseconds())/1e3/float64(b.N*ports), "new-cpu-ms/port")
	b.ReportMetric(float64(again.Microseconds())/1e3/float64(b.N*ports), "cpu-ms/port")
}

// BenchmarkPortsDay is a port's whole day: an evening, a morning and twelve
// looks between and after, of which four bring a new run of the grid.
//
//	go test ./internal/app -run '^$' -bench BenchmarkPortsDay -benchtime 1x
func BenchmarkPortsDay(b *testing.B) {
	const ports = 40
	service := newOcean(b)
	// Hours after the evening. The grid's runs come about every six.
	looks := []float64{0, 0.5, 1, 2, 4, 8, 8.5, 9, 10, 14, 14.5, 20, 20.5, 26}
	var all time.Duration
	for b.Loop() {
		evening := time.Date(2027, 1, 18, 17, 0, 0, 0, time.UTC)
		at, news := evening, 0
		a, err := app.New(app.Options{Config: manyPorts(b, ports), Transport: service, Now: func() time.Time { return at }})
		require.NoError(b, err)
		for _, hours := range looks {
			at = evening.Add(time.Duration(hours * float64(time.Hour)))
			before := service.asked
			took := lookAt(b, a, ports)
			all += took
			if service.asked > before {
				news++
			}
			b.Logf("%s: %d asked, %.1f ms/port", at.Format("02 15:04"), service.asked-before, float64(took.Microseconds())/1e3/ports)
		}
		b.ReportMetric(float64(news), "with-news")
		require.NoError(b, a.Stop(b.Context()))
	}
	b.ReportMetric(float64(all.Microseconds())/1e3/float64(b.N*ports), "cpu-ms/port")
}
