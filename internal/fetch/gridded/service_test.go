package gridded

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
	"forecastd/internal/testdata"
)

const waveFile = "gfswave_atlocn_0p16_20230823t18z_f001__jpeg2000_bitmap_19msg.grib2"

func realFile(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, "grib/real"), name))
	require.NoError(t, err)
	return b
}

// retime writes another run and lead, in hours, into every message of a file;
// the rest stays as it is. The messages must count leads in hours.
func retime(b []byte, run time.Time, lead int) []byte {
	b = bytes.Clone(b)
	for at := 0; at+16 <= len(b) && string(b[at:at+4]) == "GRIB"; {
		end := at + int(binary.BigEndian.Uint64(b[at+8:]))
		for sec := at + 16; sec+5 <= end-4; {
			switch b[sec+4] {
			case 1:
				binary.BigEndian.PutUint16(b[sec+12:], uint16(run.Year()))
				copy(b[sec+14:], []byte{byte(run.Month()), byte(run.Day()), byte(run.Hour()), 0, 0})
			case 4:
				binary.BigEndian.PutUint32(b[sec+18:], uint32(lead))
			}
			sec += int(binary.BigEndian.Uint32(b[sec:]))
		}
		at = end
	}
	return b
}

// asked is one request to the wave model's service.
type asked struct {
	run   time.Time
	lead  int
	index bool
	rng   string
	times int // how often this very request has come, from 1
}

// waves serves the real file of the wave model, with its inventory and by
// ranges, as every hour of the runs that are out. lie may answer instead.
type waves struct {
	body, index []byte
	out         map[time.Time]bool
	lie         func(w http.ResponseWriter, r *http.Request, a asked) bool

	mu        sync.Mutex
	log       []asked
	now, most int
}

func newWaves(t testing.TB, out ...time.Time) *waves {
	s := &waves{body: realFile(t, waveFile), index: realFile(t, waveFile+".idx"), out: map[time.Time]bool{}}
	for _, r := range out {
		s.out[r] = true
	}
	return s
}

func (s *waves) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	a, ok := readPath(r)
	s.mu.Lock()
	a.times = 1
	for _, b := range s.log {
		if b.run.Equal(a.run) && b.lead == a.lead && b.index == a.index && b.rng == a.rng {
			a.times++
		}
	}
	s.log = append(s.log, a)
	s.now++
	s.most = max(s.most, s.now)
	s.mu.Unlock()
	defer func() {
		s.mu.Lock()
		s.now--
		s.mu.Unlock()
	}()
	if !ok || !s.out[a.run] {
		http.NotFound(w, r)
		return
	}
	if s.lie != nil && s.lie(w, r, a) {
		return
	}
	if a.index {
		io.WriteString(w, s.inventory(a))
		return
	}
	http.ServeContent(w, r, "", a.run.Add(5*time.Hour), bytes.NewReader(retime(s.body, a.run, a.lead)))
}

func (s *waves) inventory(a asked) string {
	text := strings.ReplaceAll(string(s.index), "d=2023082318", "d="+a.run.Format("2006010215"))
	window := fmt.Sprintf("%d hour fcst", a.lead)
	switch {
	case a.lead == 0:
		window = "anl"
	case a.lead%24 == 0:
		window = fmt.Sprintf("%d day fcst", a.lead/24)
	}
	return strings.ReplaceAll(text, "1 hour fcst", window)
}

func readPath(r *http.Request) (asked, bool) {
	m := regexp.MustCompile(`^/gfs\.(\d{8})/(\d\d)/wave/gridded/gfswave\.t(\d\d)z\.atlocn\.0p16\.f(\d{3})\.grib2(\.idx)?$`).FindStringSubmatch(r.URL.Path)
	if m == nil || m[2] != m[3] {
		return asked{}, false
	}
	run, err := time.Parse("2006010215", m[1]+m[2])
	lead, _ := strconv.Atoi(m[4])
	return asked{run: run, lead: lead, index: m[5] != "", rng: r.Header.Get("Range")}, err == nil
}

func (s *waves) requests() []asked {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]asked(nil), s.log...)
}

func start(t testing.TB, h http.Handler) string {
	srv := httptest.NewUnstartedServer(h)
	srv.Config.ErrorLog = log.New(io.Discard, "", 0)
	srv.Start()
	t.Cleanup(func() {
		srv.CloseClientConnections()
		srv.Close()
	})
	return srv.URL
}

func client(t testing.TB, transport http.RoundTripper) *httpx.Client {
	t.Helper()
	c, err := httpx.New(httpx.Options{Transport: transport, UserAgent: "forecastd-test (test@example.org)", Pause: time.Millisecond, Now: now})
	require.NoError(t, err)
	return c
}

// newest is the run of the real file; now is when it has just come out.
func newest() time.Time { return time.Date(2023, 8, 23, 18, 0, 0, 0, time.UTC) }
func older() time.Time  { return newest().Add(-6 * time.Hour) }
func now() time.Time    { return newest().Add(6 * time.Hour) }

// offshore is open water in the wave model.
func offshore() models.Position { return models.Position{Lat: 27.25, Lon: -79.75} }

func product(t testing.TB, name string) Product {
	t.Helper()
	p, err := Lookup(name)
	require.NoError(t, err)
	return p
}

func newSource(t testing.TB, base string, o Options) *Source {
	t.Helper()
	transport := &http.Transport{MaxIdleConnsPerHost: 8}
	t.Cleanup(transport.CloseIdleConnections)
	o.Base = base
	if o.Product.Name == "" {
		o.Product = product(t, "gfs-wave")
	}
	if o.Places == nil {
		o.Places = []Place{{Ground: "the edge", At: offshore()}}
	}
	if o.Horizon == 0 {
		o.Horizon = 24 * time.Hour
	}
	if o.Now == nil {
		o.Now = now
	}
	o.MaxAge = 18 * time.Hour
	s, err := New(client(t, transport), o)
	require.NoError(t, err)
	return s
}
