package ndbc_test

import (
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/fetchtest"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/fetch/ndbc"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

func now() time.Time { return time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC) }

func client(t testing.TB, transport http.RoundTripper) *httpx.Client {
	t.Helper()
	c, err := httpx.New(httpx.Options{Transport: transport, UserAgent: "forecastd-test (test@example.invalid)", Now: now, Pause: time.Millisecond})
	require.NoError(t, err)
	return c
}

// An invented buoy and an invented tower.
const (
	buoyTxt = head +
		"2027 01 18 21 50 350  8.0 10.0   1.2     6   4.5  10 1021.0  18.0  24.5   9.0   MM -0.8    MM\n" +
		"2027 01 18 21 40 350  8.0 10.0   1.2    MM   4.5  10 1021.1  18.0  24.5   9.0   MM   MM    MM\n" +
		"2027 01 18 21 30 350  8.5 10.5    MM    MM    MM  MM 1021.1  18.1  24.5   9.0   MM   MM    MM\n" +
		"2027 01 11 21 50 350  8.0 10.0   1.2     6   4.5  10 1021.0  18.0  24.5   9.0   MM -0.8    MM\n"
	buoySpec = "#YY  MM DD hh mm WVHT  SwH  SwP  WWH  WWP SwD WWD  STEEPNESS  APD MWD\n" +
		"#yr  mo dy hr mn    m    m  sec    m  sec  -  degT     -      sec degT\n" +
		"2027 01 18 21 40  1.2  0.6  8.3  1.0  5.9   E   N      STEEP  4.5  10\n"
	towerTxt = head +
		"2027 01 18 22 00 340  9.0 11.0    MM    MM    MM  MM 1020.8  18.2  24.9   9.1   MM -0.9    MM\n" +
		"2027 01 18 23 30 340  9.0 11.0    MM    MM    MM  MM 1020.8  18.2  24.9   9.1   MM -0.9    MM\n"
)

func service(files map[string]string) http.Handler {
	return written(files, "Mon, 18 Jan 2027 21:58:00 GMT")
}

// written is the service with files of a time.
func written(files map[string]string, modified string) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, ok := files[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", "text/plain")
		w.Header().Set("Last-Modified", modified)
		io.WriteString(w, body)
	})
}

func TestContract(t *testing.T) {
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			s, err := ndbc.New(ndbc.Options{Client: client(t, transport), BaseURL: base + "/", Now: now, Stations: []ndbc.Station{
				{ID: "99901", Wind: true, Waves: true}, {ID: "towr1", Wind: true},
			}})
			require.NoError(t, err)
			return s
		},
		Oversize: 5 << 20,
		Service: service(map[string]string{
			"/data/realtime2/99901.txt": buoyTxt, "/data/realtime2/99901.spec": buoySpec, "/data/realtime2/TOWR1.txt": towerTxt,
		}),
		Older: written(map[string]string{
			"/data/realtime2/99901.txt": strings.Replace(buoyTxt, "21 50 350", "21 20 350", 1), "/data/realtime2/99901.spec": buoySpec,
			"/data/realtime2/TOWR1.txt": strings.Replace(towerTxt, "22 00 340", "21 20 340", 1),
		}, "Mon, 18 Jan 2027 21:28:00 GMT"),
		Check: func(t testing.TB, b fetch.Batch) {
			require.Len(t, b.Observations, 4, "without what is a week old, and what is not yet")
			require.Equal(t, []string{"TOWR1: rows from the future left out: 1"}, b.Notes)
			wave := b.Observations[2]
			require.Equal(t, time.Date(2027, 1, 18, 21, 50, 0, 0, time.UTC), wave.At)
			require.Equal(t, models.Known(5.9), wave.Period)
			require.Equal(t, models.Known(0.6*units.Metre), wave.Swell)
			require.Equal(t, "STEEP", wave.SteepnessLabel)
			require.Equal(t, models.Known(8*time.Minute), wave.Averaging)
			require.Equal(t, models.Provenance{
				Source: "ndbc", Detail: "99901", Issued: time.Date(2027, 1, 18, 21, 58, 0, 0, time.UTC), Fetched: now(),
			}, wave.From)
			require.Equal(t, "TOWR1", b.Observations[3].Station)
			require.Len(t, b.From, 2)
		},
	})
}

type handler struct{ http.Handler }

func (h handler) RoundTrip(r *http.Request) (*http.Response, error) {
	w := &recorder{header: http.Header{}}
	h.ServeHTTP(w, r)
	return &http.Response{StatusCode: w.code(), Header: w.header, ContentLength: -1, Request: r, Body: io.NopCloser(strings.NewReader(w.String()))}, nil
}

type recorder struct {
	strings.Builder
	header http.Header
	status int
}

func (r *recorder) Header() http.Header { return r.header }
func (r *recorder) WriteHeader(s int)   { r.status = s }
func (r *recorder) code() int {
	if r.status == 0 {
		return 200
	}
	return r.status
}

func TestUse(t *testing.T) {
	files := map[string]string{
		"/data/realtime2/99901.txt": buoyTxt, "/data/realtime2/99901.spec": buoySpec,
		"/activestations.xml":             `<stations><station id="towr1" lat="25" lon="-80"/></stations>`,
		"/data/latest_obs/latest_obs.txt": "#STN LAT LON YYYY MM DD hh mm WDIR WSPD GST\nTOWR1 25 -80 2027 01 18 21 50 210 1.5 2.1\n",
		"/elsewhere/activestations.xml":   "<stations></stations>",
		"/data/realtime2/00000.txt":       strings.ReplaceAll(buoyTxt, "2027", "2026"),
	}
	c := client(t, handler{service(files)})
	fetchOne := func(st ndbc.Station) (fetch.Batch, error) {
		s, err := ndbc.New(ndbc.Options{Client: c, Now: now, Stations: []ndbc.Station{st}})
		require.NoError(t, err)
		return s.Fetch(t.Context())
	}
	b, err := fetchOne(ndbc.Station{ID: "99901", Waves: true})
	require.NoError(t, err)
	for _, o := range b.Observations {
		require.False(t, o.Wind.Known() || o.Averaging.Known(), "its wind is not wanted")
	}
	b, err = fetchOne(ndbc.Station{ID: "99901", Wind: true})
	require.NoError(t, err)
	for _, o := range b.Observations {
		require.False(t, o.Sea.Known() || o.Period.Known(), "its waves are not wanted")
		require.True(t, o.Wind.Known())
	}
	_, err = fetchOne(ndbc.Station{ID: "00000", Wind: true})
	var e *models.Error
	require.ErrorAs(t, err, &e, "what is too old is as good as nothing")
	require.Equal(t, models.KindNotFound, e.Kind)

	stations, odd, err := ndbc.FetchStations(t.Context(), c, "")
	require.NoError(t, err)
	require.Empty(t, odd)
	require.Equal(t, "TOWR1", stations[0].ID)
	_, _, err = ndbc.FetchStations(t.Context(), c, "https://www.ndbc.noaa.gov/elsewhere")
	require.ErrorAs(t, err, &e)
	require.Equal(t, models.KindBadContent, e.Kind)
}

func TestNewRefuses(t *testing.T) {
	for _, stations := range [][]ndbc.Station{nil, {{ID: "../../etc"}}, {{ID: ""}}} {
		_, err := ndbc.New(ndbc.Options{Stations: stations})
		var e *models.Error
		require.ErrorAs(t, err, &e)
		require.Equal(t, models.KindBadConfig, e.Kind)
	}
}
