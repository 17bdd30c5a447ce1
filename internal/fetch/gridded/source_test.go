package gridded

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/fetchtest"
	"forecastd/internal/fetch/grib2"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func TestContract(t *testing.T) {
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			s, err := New(client(t, transport), Options{
				Product: product(t, "gfs-wave"), Places: []Place{{Ground: "the edge", At: offshore()}},
				Horizon: 6 * time.Hour, MaxAge: 18 * time.Hour, Now: now, Base: base,
			})
			require.NoError(t, err)
			return s
		},
		Service: newWaves(t, newest()), Lasting: true,
		Check: func(t testing.TB, b fetch.Batch) {
			require.Len(t, b.Series, 1)
			require.Equal(t, newest(), b.Series[0].Run)
			require.True(t, b.Series[0].Hours[0].Sea.Known())
		},
	})
}

// The values at a ground are those that package grib2 reads out of the same
// real messages, which is checked against ecCodes there.
func TestValues(t *testing.T) {
	s := newSource(t, start(t, newWaves(t, newest())), Options{Horizon: 24 * time.Hour})
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	fetchtest.Plausible(t, b)
	require.Empty(t, b.Notes)
	require.Len(t, b.Series, 1)
	series := b.Series[0]
	require.Equal(t, "gfs-wave", series.Source)
	require.Equal(t, "the edge", series.Ground)
	require.Equal(t, newest(), series.Run)
	require.Equal(t, "run of 23 Aug 18:00 UTC", b.From[0].Detail)
	// 23:00 to 24:00 the day after, three-hourly, with one before and behind.
	require.Equal(t, newest().Add(3*time.Hour), series.Hours[0].At)
	require.Equal(t, newest().Add(30*time.Hour), series.Hours[len(series.Hours)-1].At)
	require.Len(t, series.Hours, 10)

	fields, errs := grib2.Read(realFile(t, waveFile))
	require.Empty(t, errs)
	at := func(message int) float64 {
		v, err := fields[message-1].At(offshore().Lat, offshore().Lon)
		require.NoError(t, err)
		x, ok := v.Get()
		require.True(t, ok)
		return x
	}
	w, err := grib2.VectorAtPoints(fields[2], fields[3], []grib2.Point{{Lat: offshore().Lat, Lon: offshore().Lon}})
	require.NoError(t, err)
	wind, ok := w[0].Get()
	require.True(t, ok)
	from, _ := wind.From()
	for _, h := range series.Hours {
		require.Equal(t, models.Hour{
			At:   h.At,
			Wind: models.Known(wind.Speed()), WindFrom: models.Known(from),
			// The numbers of the messages are the inventory's.
			Sea: models.Known(units.Length(at(5))), Period: models.Known(at(6)), SeaFrom: models.Known(units.From(at(7))),
			Swell: models.Known(units.Length(at(9))), SwellPeriod: models.Known(at(13)), SwellFrom: models.Known(units.From(at(17))),
		}, h)
	}
	require.Positive(t, s.Bytes())
}

func TestPolite(t *testing.T) {
	service := newWaves(t, newest())
	clock := now()
	s := newSource(t, start(t, service), Options{Horizon: 48 * time.Hour, Now: func() time.Time { return clock }})
	_, err := s.Fetch(t.Context())
	require.NoError(t, err)
	// Leads 3 to 54: an inventory and three ranges each, and nothing twice.
	const files = 18
	log := service.requests()
	require.Len(t, log, files*4)
	require.Equal(t, asked{run: newest(), lead: 54, index: true, times: 1}, log[0], "the last hour is asked for first")
	require.LessOrEqual(t, service.most, parallel)
	for _, a := range log {
		require.Equal(t, 1, a.times)
		require.Equal(t, a.index, a.rng == "", "never a whole file")
	}

	_, err = s.Fetch(t.Context())
	require.NoError(t, err)
	require.Len(t, service.requests(), files*4, "what has been read is not asked for again")

	clock = clock.Add(6 * time.Hour)
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, newest(), b.Series[0].Run)
	require.Contains(t, b.Notes, "the run of 24 Aug 00:00 UTC is not out; an older one stands in")
	require.Len(t, service.requests(), files*4+1+2*4, "a look for the new run, and the hours that have come within the horizon")

	service.out[newest().Add(6*time.Hour)] = true
	b, err = s.Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, newest().Add(6*time.Hour), b.Series[0].Run)
	require.Len(t, s.kept, 1, "the run before is forgotten")
}

func TestManyPlacesOneFetch(t *testing.T) {
	service := newWaves(t, newest())
	places := []Place{{"the edge", offshore()}, {"inland", models.Position{Lat: 34, Lon: -84}}, {"the shelf", models.Position{Lat: 31, Lon: -79}}}
	s := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour, Places: places})
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	require.Len(t, b.Series, 2)
	require.Equal(t, "the shelf", b.Series[1].Ground)
	require.True(t, slices.ContainsFunc(b.Notes, func(n string) bool { return strings.HasPrefix(n, "inland: no values at") }), "%q", b.Notes)
	require.Len(t, service.requests(), 4*4, "as many as for one place")
	one, err := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour, Places: places[2:]}).Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, one.Series[0].Hours, b.Series[1].Hours)
}

func TestNowhereNearWater(t *testing.T) {
	s := newSource(t, start(t, newWaves(t, newest())), Options{Horizon: 6 * time.Hour, Places: []Place{{"inland", models.Position{Lat: 34, Lon: -84}}}})
	_, err := s.Fetch(t.Context())
	require.Equal(t, models.KindBadConfig, kind(err))
	require.ErrorContains(t, err, "give it a model point in open water")
}

func TestHoles(t *testing.T) {
	tests := []struct {
		name string
		// status of a lead's file in the newest run; 200 is there
		status func(lead int) int
		run    time.Time
		hours  int
		note   string
	}{
		{"one hour is missing", func(l int) int { return pick(l == 12, 404) }, newest(), 9, "1 of 10 files could not be read, from hour 12 on: not found"},
		{"one hour fails", func(l int) int { return pick(l == 12, 500) }, newest(), 9, "1 of 10 files could not be read, from hour 12 on: server error"},
		{"four hours are missing", func(l int) int { return pick(l >= 6 && l <= 15, 404) }, newest(), 6, "4 of 10 files could not be read, from hour 6 on: not found"},
		{"half of the run is missing", func(l int) int { return pick(l <= 15, 404) }, older(), 10, "the run of 23 Aug 18:00 UTC gives only 5 of 10 hours"},
		{"the run is not out to its end", func(l int) int { return pick(l == 30, 404) }, older(), 10, "the run of 23 Aug 18:00 UTC is not out; an older one stands in"},
		{"the last hour fails", func(l int) int { return pick(l == 30, 503) }, older(), 10, "the run of 23 Aug 18:00 UTC could not be read; an older one stands in"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			service := newWaves(t, newest(), older())
			service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
				if status := tt.status(a.lead); a.run.Equal(newest()) && status != 200 {
					w.WriteHeader(status)
					return true
				}
				return false
			}
			s := newSource(t, start(t, service), Options{Horizon: 24 * time.Hour})
			b, err := s.Fetch(t.Context())
			require.NoError(t, err)
			require.Equal(t, tt.run, b.Series[0].Run)
			require.Len(t, b.Series[0].Hours, tt.hours)
			found := slices.ContainsFunc(b.Notes, func(n string) bool { return strings.HasPrefix(n, tt.note) })
			require.True(t, found, "%q", b.Notes)

			// When the service is well again, only what is lacking is asked for.
			before := len(service.requests())
			service.lie = nil
			b, err = s.Fetch(t.Context())
			require.NoError(t, err)
			require.Equal(t, newest(), b.Series[0].Run)
			require.Empty(t, b.Notes)
			if tt.run.Equal(newest()) {
				require.Len(t, service.requests(), before+4*(10-tt.hours))
			}
		})
	}
}

func pick(yes bool, status int) int {
	if yes {
		return status
	}
	return 200
}

func TestNoRunHasItsLastHour(t *testing.T) {
	service := newWaves(t, newest(), older())
	service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
		if a.run.Add(time.Duration(a.lead) * time.Hour).After(newest().Add(24 * time.Hour)) {
			http.NotFound(w, r)
			return true
		}
		return false
	}
	b, err := newSource(t, start(t, service), Options{Horizon: 24 * time.Hour}).Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, newest(), b.Series[0].Run)
	require.Len(t, b.Series[0].Hours, 8)
	require.Contains(t, b.Notes, "no run is out to its last hour; the run of 23 Aug 18:00 UTC is used as far as it goes")
}

func TestTheRunThatGivesMore(t *testing.T) {
	service := newWaves(t, newest(), older())
	service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
		if a.run.Equal(newest()) && a.lead < 21 || a.run.Equal(older()) && a.lead < 30 {
			http.NotFound(w, r)
			return true
		}
		return false
	}
	b, err := newSource(t, start(t, service), Options{Horizon: 24 * time.Hour}).Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, newest(), b.Series[0].Run)
	require.Len(t, b.Series[0].Hours, 4, "not the three of the older run")
	require.Contains(t, b.Notes, "the run of 23 Aug 12:00 UTC gives only 3 of 10 hours")
}

func TestSickServiceIsLeftAlone(t *testing.T) {
	service := newWaves(t, newest(), older())
	service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
		if a.index && a.lead%240 == 0 && a.lead > 0 {
			return false
		}
		w.WriteHeader(http.StatusInternalServerError)
		return true
	}
	_, err := newSource(t, start(t, service), Options{Horizon: 240 * time.Hour}).Fetch(t.Context())
	require.Equal(t, models.KindServer, kind(err), "%v", err)
	// Each failing request is made three times by the client.
	require.LessOrEqual(t, len(service.requests()), 2*(1+3*(patience+parallel)))
}

func TestRateLimited(t *testing.T) {
	service := newWaves(t, newest(), older())
	service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
		if a.lead >= 9 && a.lead < 30 {
			w.Header().Set("Retry-After", "300")
			w.WriteHeader(http.StatusTooManyRequests)
			return true
		}
		return false
	}
	b, err := newSource(t, start(t, service), Options{Horizon: 24 * time.Hour}).Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, newest(), b.Series[0].Run)
	require.False(t, slices.ContainsFunc(service.requests(), func(a asked) bool { return a.run.Equal(older()) }), "no other run is asked for")
	require.True(t, slices.ContainsFunc(b.Notes, func(n string) bool { return strings.Contains(n, "rate limited") }), "%q", b.Notes)
	told := 0
	for _, a := range service.requests() {
		if a.lead >= 9 && a.lead < 30 {
			told++
		}
	}
	require.LessOrEqual(t, told, parallel, "no more than what was under way")
}

// timeUp is a context whose deadline passes when done is closed.
type timeUp struct {
	context.Context
	done chan struct{}
}

func (c timeUp) Done() <-chan struct{} { return c.done }

func (c timeUp) Err() error {
	select {
	case <-c.done:
		return context.DeadlineExceeded
	default:
		return nil
	}
}

func TestDeadlineKeepsWhatCame(t *testing.T) {
	service := newWaves(t, newest(), older())
	ctx := timeUp{t.Context(), make(chan struct{})}
	var once sync.Once
	service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
		if a.lead >= 24 && !a.index {
			once.Do(func() { close(ctx.done) })
			<-r.Context().Done()
			return true
		}
		return false
	}
	s := newSource(t, start(t, service), Options{Horizon: 24 * time.Hour})
	b, err := s.Fetch(ctx)
	require.NoError(t, err)
	hours := b.Series[0].Hours
	require.GreaterOrEqual(t, len(hours), 4)
	require.True(t, hours[0].At.Before(newest().Add(15*time.Hour)), "the near hours come first: %s", hours[0].At)
	require.True(t, slices.ContainsFunc(b.Notes, func(n string) bool { return strings.Contains(n, "could not be read") }), "%q", b.Notes)
	require.False(t, slices.ContainsFunc(service.requests(), func(a asked) bool { return a.run.Equal(older()) }))
}

// lies are answers to the request of a range, or of an inventory, that must
// not be believed.
func lies(s *waves) map[string]struct {
	tell  func(w http.ResponseWriter, r *http.Request, a asked) bool
	kind  models.Kind
	words string
} {
	type lie = struct {
		tell  func(w http.ResponseWriter, r *http.Request, a asked) bool
		kind  models.Kind
		words string
	}
	body := func(a asked) []byte { return retime(s.body, a.run, a.lead) }
	var part = func(a asked) (first, last int) {
		fmt.Sscanf(a.rng, "bytes=%d-%d", &first, &last)
		return first, last
	}
	// partial answers with other bytes or another Content-Range.
	partial := func(alter func(a asked, first, last int) (b []byte, header string)) func(http.ResponseWriter, *http.Request, asked) bool {
		return func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if a.index {
				return false
			}
			first, last := part(a)
			b, header := alter(a, first, last)
			w.Header().Set("Content-Range", header)
			w.WriteHeader(http.StatusPartialContent)
			w.Write(b)
			return true
		}
	}
	says := func(first, last int) string { return fmt.Sprintf("bytes %d-%d/%d", first, last, len(s.body)) }
	index := func(alter func(text string) string) func(http.ResponseWriter, *http.Request, asked) bool {
		return func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if a.index {
				io.WriteString(w, alter(s.inventory(a)))
			}
			return a.index
		}
	}
	return map[string]lie{
		"the whole for a range": {func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if a.index {
				return false
			}
			w.Write(body(a))
			return true
		}, models.KindTooLarge, "ignores ranges"},
		"a part that is said to be the whole": {func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if a.index {
				return false
			}
			first, last := part(a)
			w.Header().Set("Content-Range", says(first, last))
			w.Write(body(a)[first : last+1])
			return true
		}, models.KindBadContent, "got the whole"},
		"fewer bytes than asked": {partial(func(a asked, first, last int) ([]byte, string) {
			return body(a)[first : last-9], says(first, last-10)
		}), models.KindBadContent, "asked for bytes="},
		"fewer bytes than said": {partial(func(a asked, first, last int) ([]byte, string) {
			return body(a)[first : last-9], says(first, last)
		}), models.KindBadContent, "asked for bytes="},
		"another range": {partial(func(a asked, first, last int) ([]byte, string) {
			return body(a)[:last-first+1], says(0, last-first)
		}), models.KindBadContent, "asked for bytes="},
		"no Content-Range": {partial(func(a asked, first, last int) ([]byte, string) {
			return body(a)[first : last+1], ""
		}), models.KindBadContent, "Content-Range"},
		"a web page": {func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if a.index {
				return false
			}
			io.WriteString(w, "<!DOCTYPE html><html><body>come back later</body></html>")
			return true
		}, models.KindBadContent, "web page"},
		"sent to another host": {func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if a.index {
				return false
			}
			http.Redirect(w, r, "http://elsewhere.invalid/", http.StatusFound)
			return true
		}, models.KindRefused, "another host"},
		"another run's bytes": {partial(func(a asked, first, last int) ([]byte, string) {
			return retime(s.body, older(), a.lead+6)[first : last+1], says(first, last)
		}), models.KindBadContent, "not the"},
		"another hour's bytes": {partial(func(a asked, first, last int) ([]byte, string) {
			return retime(s.body, a.run, a.lead+3)[first : last+1], says(first, last)
		}), models.KindBadContent, "not the"},
		"a message that breaks off": {partial(func(a asked, first, last int) ([]byte, string) {
			b := body(a)[first : last+1]
			at := 0 // overwrite the end mark of every message
			for at+16 <= len(b) && string(b[at:at+4]) == "GRIB" {
				at += int(b[at+13])<<16 | int(b[at+14])<<8 | int(b[at+15])
				if at <= len(b) {
					copy(b[at-4:at], "0000")
				}
			}
			return b, says(first, last)
		}), models.KindBadContent, ""},
		"an inventory of other offsets": {index(func(text string) string {
			var out strings.Builder
			for line := range strings.Lines(text) {
				p := strings.SplitN(line, ":", 3)
				var at int
				fmt.Sscan(p[1], &at)
				fmt.Fprintf(&out, "%s:%d:%s", p[0], at+100, p[2])
			}
			return out.String()
		}), models.KindBadContent, ""},
		"an inventory with names changed about": {index(func(text string) string {
			// WIND and WDIR stand for other quantities, so does the rest.
			return strings.NewReplacer("UGRD", "WIND", "WIND", "UGRD", "VGRD", "WDIR", "WDIR", "VGRD", "HTSGW", "WVHGT", "WVHGT", "HTSGW",
				"PERPW", "DIRPW", "DIRPW", "PERPW", "SWELL", "SWDIR", "SWDIR", "SWELL", "SWPER", "X").Replace(text)
		}), models.KindBadContent, "not the"},
		"an inventory without our fields": {index(func(text string) string {
			return strings.ReplaceAll(text, "surface", "2 m above ground")
		}), "", ""},
	}
}

func TestLies(t *testing.T) {
	for name, lie := range lies(newWaves(t, newest())) {
		t.Run(name, func(t *testing.T) {
			service := newWaves(t, newest())
			service.lie = lie.tell
			b, err := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour}).Fetch(t.Context())
			if lie.kind == "" { // what is left is the swell
				require.NoError(t, err)
				require.False(t, b.Series[0].Hours[0].Sea.Known())
				require.Contains(t, b.Notes, "the model gives no sea at some hours (HTSGW)")
				return
			}
			require.Error(t, err)
			require.Equal(t, lie.kind, kind(err), "%v", err)
			require.ErrorContains(t, err, lie.words)
			require.Empty(t, b.Series)

			// Of one hour, it costs that hour only.
			service = newWaves(t, newest())
			service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool { return a.lead == 6 && lie.tell(w, r, a) }
			b, err = newSource(t, start(t, service), Options{Horizon: 6 * time.Hour}).Fetch(t.Context())
			require.NoError(t, err)
			require.Len(t, b.Series[0].Hours, 3)
			require.Len(t, b.Notes, 1)
			require.Contains(t, b.Notes[0], "1 of 4 files could not be read, from hour 6 on")
		})
	}
}

// A field that is cut in its middle costs that field only.
func TestOneFieldBroken(t *testing.T) {
	service := newWaves(t, newest())
	service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
		if a.lead != 6 || !strings.HasPrefix(a.rng, "bytes=559540-") {
			return false
		}
		w.WriteHeader(http.StatusNotFound)
		return true
	}
	s := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour})
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, []string{"swell from could not be read: not found, not found"}, b.Notes)
	require.False(t, b.Series[0].Hours[1].SwellFrom.Known())
	require.True(t, b.Series[0].Hours[1].Swell.Known())

	service.lie = nil
	before := len(service.requests())
	b, err = s.Fetch(t.Context())
	require.NoError(t, err)
	require.Empty(t, b.Notes)
	require.True(t, b.Series[0].Hours[1].SwellFrom.Known())
	require.Len(t, service.requests(), before+4, "the file is asked for once more")
}

// Where the inventory stands as it was, the same bytes are not asked for twice.
func TestWrongBytesAreNotAskedForTwice(t *testing.T) {
	service := newWaves(t, newest())
	lie := lies(service)["another run's bytes"]
	service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool { return a.lead == 6 && lie.tell(w, r, a) }
	_, err := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour}).Fetch(t.Context())
	require.NoError(t, err)
	for _, a := range service.requests() {
		require.True(t, a.index || a.times == 1, "%+v", a)
	}
}

func TestStaleInventory(t *testing.T) {
	stale := func(s *waves, a asked) string {
		return strings.ReplaceAll(s.inventory(a), ":184546:", ":184540:")
	}
	t.Run("read again", func(t *testing.T) {
		service := newWaves(t, newest())
		service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if !a.index || a.lead != 6 || a.times > 1 {
				return false
			}
			io.WriteString(w, stale(service, a))
			return true
		}
		b, err := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour}).Fetch(t.Context())
		require.NoError(t, err)
		require.Empty(t, b.Notes)
		require.True(t, b.Series[0].Hours[1].Sea.Known())
	})
	t.Run("and left", func(t *testing.T) {
		service := newWaves(t, newest())
		service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if !a.index || a.lead != 6 {
				return false
			}
			w.Header().Set("Last-Modified", a.run.Add(4*time.Hour).Format(http.TimeFormat))
			io.WriteString(w, stale(service, a))
			return true
		}
		b, err := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour}).Fetch(t.Context())
		require.NoError(t, err)
		h := b.Series[0].Hours[1]
		require.False(t, h.Sea.Known())
		require.True(t, h.Period.Known())
		require.Equal(t, []string{
			"sea could not be read: bad content, no message begins at byte 184540, where the inventory says; the inventory is older than the file",
			"wind v could not be read: bad content, the message at byte 142623 says it is edition 2 and 41923 bytes long, the inventory 41917 bytes; the inventory is older than the file",
		}, slices.Sorted(slices.Values(b.Notes)))
		indexes := 0
		for _, a := range service.requests() {
			if a.lead == 6 && a.index {
				indexes++
			}
		}
		require.Equal(t, 2, indexes, "the inventory is read once more, not twice")
	})
	t.Run("older but right", func(t *testing.T) {
		service := newWaves(t, newest())
		service.lie = func(w http.ResponseWriter, r *http.Request, a asked) bool {
			if a.index {
				w.Header().Set("Last-Modified", a.run.Add(4*time.Hour).Format(http.TimeFormat))
			}
			return false
		}
		b, err := newSource(t, start(t, service), Options{Horizon: 6 * time.Hour}).Fetch(t.Context())
		require.NoError(t, err)
		require.Empty(t, b.Notes, "every message proved right")
	})
}
