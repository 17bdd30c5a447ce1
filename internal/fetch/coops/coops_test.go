package coops_test

import (
	"fmt"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/coops"
	"forecastd/internal/fetch/fetchtest"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/testdata"
)

func read(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, "obs"), name))
	require.NoError(t, err)
	return b
}

func when(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04", s)
	require.NoError(t, err)
	return at
}

// A recorded answer of the service; the numbers are read by eye.
func TestRecordedTurns(t *testing.T) {
	got, odd, err := coops.ParseTurns(read(t, "coops_currents_predictions_max_slack_PUG1515_english.json"))
	require.NoError(t, err)
	require.Empty(t, odd)
	require.Equal(t, []models.StreamEvent{
		{At: when(t, "2026-04-08 01:00"), Kind: models.Flood, Speed: 1.12 * units.Knot, Toward: models.Known(units.Toward(234))},
		{At: when(t, "2026-04-08 04:34"), Kind: models.Slack},
	}, got)
	_, odd, err = coops.ParseCourse(read(t, "coops_currents_predictions_max_slack_PUG1515_english.json"))
	require.ErrorContains(t, err, "no usable row")
	require.Equal(t, []coops.Oddity{{What: "turn of the stream in place of its course", Count: 2}}, odd)
}

// Recorded answers to other questions are not high and low water.
func TestRecordedAnswersThatAreNoTides(t *testing.T) {
	_, odd, err := coops.ParseTides(read(t, "coops_predictions_hourly_8720030_2021-01-01.json"), units.Metre)
	require.ErrorContains(t, err, "find high and low water")
	require.Len(t, odd, 1)
	require.Equal(t, "tide that is neither high nor low water", odd[0].What)
	require.GreaterOrEqual(t, odd[0].Count, 24)

	for _, file := range []string{"coops_water_level_8723214_2021-01-01.json", "coops_water_temperature_8723970_2014-09-27.json", "coops_harcon_9999531.json"} {
		_, _, err = coops.ParseTides(read(t, file), units.Metre)
		require.ErrorContains(t, err, "find high and low water", file)
		_, _, err = coops.ParseTurns(read(t, file))
		require.ErrorContains(t, err, "find slack water", file)
	}

	for _, parse := range []func([]byte) error{
		func(b []byte) error { _, _, err := coops.ParseTides(b, units.Metre); return err },
		func(b []byte) error { _, _, err := coops.ParseTurns(b); return err },
		func(b []byte) error { _, _, err := coops.ParseCourse(b); return err },
		func(b []byte) error { _, err := coops.ParseStation(b); return err },
	} {
		var said *coops.ServiceError
		err := parse(read(t, "coops_error_no_data_8720233.json"))
		require.ErrorAs(t, err, &said)
		require.Equal(t, "the service says: No data was found. This product may not be offered at this station at the requested time", err.Error())
	}
}

func TestTides(t *testing.T) {
	got, odd, err := coops.ParseTides([]byte(`{"predictions":[
		{"t":"2027-01-18 10:05","v":"-0.112","type":"L"},
		{"t":"2027-01-18 03:58","v":"0.700","type":"H"},
		{"t":"2027-01-18 03:58","v":"0.713","type":"HH "},
		{"t":"2027-01-18 16:11","v":0.652,"type":" H"},
		{"t":"2027-01-18 22:30","v":"","type":"L"},
		{"t":"2027-01-18 23:30","v":"99.9","type":"L"},
		{"t":"2027-02-30 22:30","v":"0.1","type":"L"},
		{"t":"2027-01-19 04:30","v":"0.1","type":"X"}]}`), units.Metre)
	require.NoError(t, err)
	require.Equal(t, []models.TideEvent{
		{At: when(t, "2027-01-18 03:58"), Kind: models.HighWater, Height: 0.713 * units.Metre},
		{At: when(t, "2027-01-18 10:05"), Kind: models.LowWater, Height: -0.112 * units.Metre},
		{At: when(t, "2027-01-18 16:11"), Kind: models.HighWater, Height: 0.652 * units.Metre},
	}, got)
	require.Equal(t, []coops.Oddity{
		{What: "tide without a height", Count: 1},
		{What: "tide of an impossible height", Count: 1},
		{What: "tide without a readable time", Count: 1},
		{What: "tide that is neither high nor low water", Count: 1},
	}, odd)
	feet, _, err := coops.ParseTides([]byte(`{"predictions":[{"t":"2027-01-18 03:58","v":"2.5","type":"H"}]}`), units.Foot)
	require.NoError(t, err)
	require.Equal(t, 2.5*units.Foot, feet[0].Height)
}

func TestTurns(t *testing.T) {
	row := func(kind, time, speed string) string {
		return fmt.Sprintf(`{"Type":%q,"meanFloodDir":272,"Bin":"1","meanEbbDir":79,"Time":%q,"Depth":null,"Velocity_Major":%s}`, kind, time, speed)
	}
	doc := func(units string, rows ...string) []byte {
		return []byte(`{"current_predictions":{"units":"` + units + `","cp":[` + strings.Join(rows, ",") + `]}}`)
	}
	got, odd, err := coops.ParseTurns(doc("meters, cm/s",
		row("ebb", "2027-01-18 09:00", "-90"), row("flood", "2027-01-18 03:00", `"85.5"`), row("slack", "2027-01-18 06:00", "0"),
		row("ebb", "2027-01-18 21:00", "70"), // no sign, but an ebb
		row("flood", "2027-01-18 15:00", "-20"), row("Flood", "2027-01-18", "20"), row("", "2027-01-18 16:00", "20"),
		row("flood", "2027-01-18 17:00", `""`), row("flood", "2027-01-18 18:00", "4000")))
	require.NoError(t, err)
	cm := units.MetrePerSecond / 100
	require.Len(t, got, 4)
	require.Equal(t, models.StreamEvent{At: when(t, "2027-01-18 03:00"), Kind: models.Flood, Speed: 85.5 * cm, Toward: models.Known(units.Toward(272))}, got[0])
	require.Equal(t, models.StreamEvent{At: when(t, "2027-01-18 06:00"), Kind: models.Slack}, got[1])
	require.Equal(t, models.StreamEvent{At: when(t, "2027-01-18 09:00"), Kind: models.Ebb, Speed: -90 * cm, Toward: models.Known(units.Toward(79))}, got[2], "the ebb has an axis of its own")
	require.Equal(t, -70*cm, got[3].Speed)
	require.Equal(t, []coops.Oddity{
		{What: "flood that runs out", Count: 1}, {What: "stream without a readable time", Count: 1},
		{What: "stream that is neither slack, flood nor ebb", Count: 1}, {What: "stream without a speed", Count: 1},
		{What: "stream of an impossible speed", Count: 1},
	}, odd)
	_, _, err = coops.ParseTurns(doc("furlongs", row("slack", "2027-01-18 06:00", "0")))
	require.ErrorContains(t, err, "neither knots nor cm/s")

	_, odd, err = coops.ParseTurns([]byte(`{"current_predictions":{"units":"feet, knots","cp":[{"Type":"flood","Time":"2027-01-18 03:00","Velocity_Major":1,"meanFloodDir":400}]}}`))
	require.NoError(t, err)
	require.Equal(t, []coops.Oddity{{What: "stream with an impossible direction", Count: 1}}, odd)
}

func TestCourse(t *testing.T) {
	got, odd, err := coops.ParseCourse([]byte(`{"current_predictions":{"units":"feet, knots","cp":[
		{"meanFloodDir":272,"Bin":"1","meanEbbDir":79,"Time":"2027-01-18 00:30","Depth":"6","Velocity_Major":-1.9},
		{"meanFloodDir":272,"Bin":"1","meanEbbDir":79,"Time":"2027-01-18 00:00","Depth":"6","Velocity_Major":0.4},
		{"Time":"2027-01-18 01:00"},{"Velocity_Major":1},{"Time":"2027-01-18 01:00","Velocity_Major":55}]}}`))
	require.NoError(t, err)
	require.Equal(t, []models.Hour{
		{At: when(t, "2027-01-18 00:00"), InletCurrent: models.Known(0.4 * units.Knot)},
		{At: when(t, "2027-01-18 00:30"), InletCurrent: models.Known(-1.9 * units.Knot)},
	}, got)
	require.Len(t, odd, 3)
}

func TestLatin1(t *testing.T) {
	_, _, err := coops.ParseTides([]byte("{\"error\":{\"message\":\" Estaci\xf3n cerrada. \"}}"), units.Metre)
	require.EqualError(t, err, "the service says: Estación cerrada")
	s, err := coops.ParseStation([]byte("{\"stations\":[{\"id\":\"9759999\",\"name\":\"La Pargu\xe9ra\",\"lat\":\"17.97\",\"lng\":-67.05}]}"))
	require.NoError(t, err)
	require.Equal(t, coops.StationInfo{ID: "9759999", Name: "La Parguéra", At: models.Position{Lat: 17.97, Lon: -67.05}}, s)
}

func TestStation(t *testing.T) {
	got, err := coops.ParseStation(read(t, "coops_mdapi_station_9447130_expand_all.json"))
	require.NoError(t, err)
	require.Equal(t, coops.StationInfo{ID: "9447130", Name: "Seattle", At: models.Position{Lat: 47.60264, Lon: -122.3393}}, got)
	for _, bad := range []string{`{}`, `{"stations":[]}`, `{"stations":[{"id":"1234567"}]}`, `{"stations":[{"id":"","lat":1,"lng":2}]}`, `{"stations":[{"id":"1234567","lat":91,"lng":2}]}`, `[]`, `{`} {
		_, err := coops.ParseStation([]byte(bad))
		require.Error(t, err, bad)
	}
}

func now() time.Time { return time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC) }

func client(t testing.TB, transport http.RoundTripper) *httpx.Client {
	t.Helper()
	c, err := httpx.New(httpx.Options{Transport: transport, UserAgent: "forecastd-test (test@example.invalid)", Now: now, Pause: time.Millisecond})
	require.NoError(t, err)
	return c
}

const (
	hilo = `{ "predictions" : [{"t":"2027-01-18 03:58", "v":"0.713", "type":"H"},{"t":"2027-01-18 10:05", "v":"-0.112", "type":"L"}]}`
	turn = `{"current_predictions":{"units":"meters, cm/s","cp":[{"Type":"flood","meanFloodDir":272,"Bin":"1","meanEbbDir":79,"Time":"2027-01-18 01:00","Velocity_Major":100},{"Type":"ebb","meanFloodDir":272,"Bin":"1","meanEbbDir":79,"Time":"2027-01-18 07:10","Velocity_Major":-110}]}}`
	runs = `{"current_predictions":{"units":"meters, cm/s","cp":[{"meanFloodDir":272,"Bin":"1","meanEbbDir":79,"Time":"2027-01-18 01:00","Velocity_Major":100},{"meanFloodDir":272,"Bin":"1","meanEbbDir":79,"Time":"2027-01-18 01:30","Velocity_Major":96}]}}`
)

// service answers as the real one did where it was recorded: Latin-1, and an
// error with status 200 to a question that does not fit.
func service(t testing.TB) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/json;charset=ISO-8859-1")
		q := r.URL.Query()
		if r.URL.Path == "/mdapi/prod/webapi/stations/8799001.json" {
			io.WriteString(w, `{"count":1,"units":null,"stations":[{"id":"8799001","name":"Port A","lat":25.8,"lng":-80.1}]}`)
			return
		}
		if r.URL.Path == "/mdapi/prod/webapi/stations/8799002.json" {
			io.WriteString(w, `{"count":0,"units":null,"stations":[]}`)
			return
		}
		if r.URL.Path != "/api/prod/datagetter" {
			http.NotFound(w, r)
			return
		}
		if q.Get("begin_date") != "20270117" || q.Get("end_date") != "20270129" || q.Get("time_zone") != "gmt" || q.Get("units") != "metric" {
			t.Errorf("unexpected question: %s", r.URL.RawQuery)
		}
		switch q.Get("station") + " " + q.Get("product") + " " + q.Get("interval") + " " + q.Get("datum") + q.Get("bin") {
		case "8799001 predictions hilo MLLW":
			io.WriteString(w, hilo)
		case "XAI0901 currents_predictions max_slack 1":
			io.WriteString(w, turn)
		case "XAI0901 currents_predictions 30 1":
			io.WriteString(w, runs)
		case "8799009 predictions hilo MLLW": // as in the outage of July 2026
			io.WriteString(w, `{"error": {"message":"No Predictions data was found. Please make sure the Datum input is valid."}}`)
		case "8799008 predictions hilo MLLW":
			w.WriteHeader(http.StatusBadRequest)
			io.WriteString(w, `{"error": {"message":" Wrong Datum: Datum cannot be null or empty "}}`)
		default:
			io.WriteString(w, `{"error": {"message":"No data was found. This product may not be offered at this station at the requested time."}}`)
		}
	})
}

func TestContract(t *testing.T) {
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			s, err := coops.New(coops.Options{
				Client: client(t, transport), BaseURL: base, Now: now,
				Tide:   models.Known(coops.Tide{Station: "8799001", Later: 10 * time.Minute}),
				Stream: models.Known(coops.Stream{Station: "XAI0901", Bin: 1, Later: -5 * time.Minute}),
			})
			require.NoError(t, err)
			return s
		},
		Service:  service(t),
		Oversize: 5 << 20,
		Check: func(t testing.TB, b fetch.Batch) {
			require.Empty(t, b.Notes)
			from := models.Provenance{Source: "coops", Detail: "tide station 8799001, 10 min later", Fetched: now()}
			require.Equal(t, models.TideEvent{At: when(t, "2027-01-18 04:08"), Kind: models.HighWater, Height: 0.713 * units.Metre, Datum: "MLLW", From: from}, b.Tides[0])
			require.Len(t, b.Streams, 2)
			require.Equal(t, when(t, "2027-01-18 07:05"), b.Streams[1].At)
			require.Equal(t, models.Known(units.Toward(79)), b.Streams[1].Toward)
			require.Equal(t, "current station XAI0901 bin 1, 5 min earlier", b.Streams[1].From.Detail)
			require.Equal(t, []models.Hour{
				{At: when(t, "2027-01-18 00:55"), InletCurrent: models.Known(units.MetrePerSecond)},
				{At: when(t, "2027-01-18 01:25"), InletCurrent: models.Known(0.96 * units.MetrePerSecond)},
			}, b.Inlet)
			require.Len(t, b.From, 2, "turns and course are of one station")
		},
	})
}

// handler is a transport to a handler without a network.
type handler struct{ http.Handler }

func (h handler) RoundTrip(r *http.Request) (*http.Response, error) {
	pr, pw := io.Pipe()
	w := &answer{header: http.Header{}, body: pw, ready: make(chan int, 1)}
	go func() {
		h.ServeHTTP(w, r)
		w.WriteHeader(http.StatusOK)
		pw.Close()
	}()
	return &http.Response{StatusCode: <-w.ready, Header: w.header, ContentLength: -1, Request: r, Body: pr}, nil
}

type answer struct {
	header http.Header
	body   io.Writer
	ready  chan int
	wrote  bool
}

func (a *answer) Header() http.Header { return a.header }
func (a *answer) WriteHeader(status int) {
	if !a.wrote {
		a.wrote = true
		a.ready <- status
	}
}
func (a *answer) Write(b []byte) (int, error) {
	a.WriteHeader(http.StatusOK)
	return a.body.Write(b)
}

func TestErrorsWithStatus200(t *testing.T) {
	c := client(t, handler{service(t)})
	for station, kind := range map[string]models.Kind{
		"8799009": models.KindServer, // worth asking again
		"8799008": models.KindServer,
		"8799007": models.KindNotFound,
	} {
		s, err := coops.New(coops.Options{Client: c, Now: now, Tide: models.Known(coops.Tide{Station: station})})
		require.NoError(t, err)
		_, err = s.Fetch(t.Context())
		var e *models.Error
		require.ErrorAs(t, err, &e)
		require.Equal(t, kind, e.Kind, "%v", err)
	}
	// A station that has turns but no course: subordinate ones.
	s, err := coops.New(coops.Options{Client: c, Now: now, Tide: models.Known(coops.Tide{Station: "8799001"}), Stream: models.Known(coops.Stream{Station: "XAI0902"})})
	require.NoError(t, err)
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	require.Len(t, b.Tides, 2)
	require.Len(t, b.Notes, 2)
	require.Contains(t, b.Notes[0], "slack water at XAI0902 is missing")
}

func TestFetchStation(t *testing.T) {
	c := client(t, handler{service(t)})
	got, err := coops.FetchStation(t.Context(), c, "", "8799001")
	require.NoError(t, err)
	require.Equal(t, "Port A", got.Name)
	var e *models.Error
	for id, kind := range map[string]models.Kind{"8799002": models.KindNotFound, "8799003": models.KindNotFound, "../../x": models.KindBadConfig} {
		_, err = coops.FetchStation(t.Context(), c, "", id)
		require.ErrorAs(t, err, &e)
		require.Equal(t, kind, e.Kind, id)
	}
}

func TestNewRefuses(t *testing.T) {
	for _, o := range []coops.Options{
		{},
		{Tide: models.Known(coops.Tide{Station: "no such"})},
		{Stream: models.Known(coops.Stream{Station: ""})},
		{Stream: models.Known(coops.Stream{Station: "XAI0901", Bin: -1})},
	} {
		_, err := coops.New(o)
		var e *models.Error
		require.ErrorAs(t, err, &e)
		require.Equal(t, models.KindBadConfig, e.Kind)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{hilo, turn, runs, `{"error":{"message":"no"}}`, `{"error":null}`, `{"stations":[{"id":"8799001","lat":"1","lng":2}]}`, "{\"error\":\"\xf3\"}"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if tides, _, err := coops.ParseTides(data, units.Metre); err == nil {
			require.NotEmpty(t, tides)
		}
		if turns, _, err := coops.ParseTurns(data); err == nil {
			for _, e := range turns {
				require.LessOrEqual(t, e.Speed, 20*units.Knot)
				require.False(t, e.Kind == models.Flood && e.Speed < 0 || e.Kind == models.Ebb && e.Speed > 0)
			}
		}
		if course, _, err := coops.ParseCourse(data); err == nil {
			for i := range course {
				require.True(t, i == 0 || course[i-1].At.Before(course[i].At))
			}
		}
		if s, err := coops.ParseStation(data); err == nil {
			require.True(t, coops.ValidID(s.ID))
		}
	})
}
