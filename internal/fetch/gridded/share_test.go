package gridded

import (
	"net/http"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// What goes in comes out, whatever is known of it.
func TestPackedHoursAreTheSame(t *testing.T) {
	maybe := func(t *rapid.T, what string) models.Opt[float64] {
		if rapid.Bool().Draw(t, "knows "+what) {
			return models.Known(rapid.Float64().Draw(t, what))
		}
		return models.Unknown[float64]()
	}
	rapid.Check(t, func(t *rapid.T) {
		includes := models.Known(true)
		hours := make([][]models.Hour, rapid.IntRange(1, 4).Draw(t, "places"))
		for i := range hours {
			for n := range rapid.IntRange(0, 3).Draw(t, "hours") {
				h := models.Hour{At: newest().Add(time.Duration(n) * time.Hour)}
				h.Wind = models.MapOpt(maybe(t, "wind"), func(x float64) units.Speed { return units.Speed(x) })
				h.WindFrom = models.MapOpt(maybe(t, "from"), func(x float64) units.From { return units.From(x) })
				h.Gust = models.MapOpt(maybe(t, "gust"), func(x float64) units.Speed { return units.Speed(x) })
				h.Sea = models.MapOpt(maybe(t, "sea"), func(x float64) units.Length { return units.Length(x) })
				h.Period, h.SwellPeriod = maybe(t, "period"), maybe(t, "swell period")
				h.Swell = models.MapOpt(maybe(t, "swell"), func(x float64) units.Length { return units.Length(x) })
				h.CurrentToward = models.MapOpt(maybe(t, "toward"), func(x float64) units.Toward { return units.Toward(x) })
				h.Cloud, h.Thunder = maybe(t, "cloud"), maybe(t, "thunder")
				h.Water = models.MapOpt(maybe(t, "water"), func(x float64) units.Temperature { return units.Temperature(x) })
				if h.Sea.Known() {
					h.SeaIncludesCurrent = includes
				}
				hours[i] = append(hours[i], h)
			}
		}
		p := pack(hours, includes)
		for i, want := range hours {
			got := p.at(i)
			require.Len(t, got, len(want))
			for n := range want {
				require.Equal(t, want[n], got[n])
			}
		}
	})
}

// shareAt makes sources for ports off one coast of the wave model.
func shareAt(t *testing.T, base string, now func() time.Time, ports ...Port) []*View {
	t.Helper()
	transport := &http.Transport{MaxIdleConnsPerHost: 8}
	t.Cleanup(transport.CloseIdleConnections)
	list, faults := Share(client(t, transport), Options{Product: product(t, "gfs-wave"), Horizon: 24 * time.Hour, MaxAge: 18 * time.Hour, Now: now, Base: base}, ports)
	for _, err := range faults {
		require.NoError(t, err)
	}
	return list
}

func TestPortsShareWhatIsFetched(t *testing.T) {
	alone := newWaves(t, newest(), older())
	one, err := newSource(t, start(t, alone), Options{}).Fetch(t.Context())
	require.NoError(t, err)

	service := newWaves(t, newest(), older())
	list := shareAt(t, start(t, service), now,
		Port{Places: []Place{{Ground: "the edge", At: offshore()}}},
		Port{Places: []Place{{Ground: "the bar", At: models.Position{Lat: 27.5, Lon: -79.5}}, {Ground: "the hump", At: models.Position{Lat: 28, Lon: -79.5}}}})
	var wg sync.WaitGroup
	for range 5 {
		for i, v := range list {
			wg.Go(func() {
				b, err := v.Fetch(t.Context())
				if err != nil || len(b.Series) != i+1 {
					t.Errorf("port %d: %d series, %v", i, len(b.Series), err)
				}
			})
		}
	}
	wg.Wait()
	require.Len(t, service.requests(), len(alone.requests()), "two ports ask no more than one does")
	same, err := list[0].Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, one, same, "and are answered as if they were alone")
	both, ok := list[1].Kept()
	require.True(t, ok)
	require.Equal(t, []string{"the bar", "the hump"}, []string{both.Series[0].Ground, both.Series[1].Ground})
}

// The table says that a run of gfs-wave is whole 5 h 45 min after its start.
func TestARunIsLookedForWhenItCanBeOut(t *testing.T) {
	at := now()
	clock := func() time.Time { return at }
	service := newWaves(t, newest(), older())
	list := shareAt(t, start(t, service), clock, Port{Places: []Place{{At: offshore()}}}, Port{Places: []Place{{At: offshore()}}})
	asks := func(v *View) int {
		t.Helper()
		was := len(service.requests())
		_, err := v.Fetch(t.Context())
		require.NoError(t, err)
		return len(service.requests()) - was
	}
	require.Positive(t, asks(list[0]))
	next := newest().Add(6*time.Hour + 5*time.Hour + 45*time.Minute)
	require.Equal(t, next, list[1].Next(at))
	at = next.Add(-time.Minute)
	require.Zero(t, asks(list[1]))

	// The next run is late: it is looked for every ten minutes, by one of them.
	at = next
	require.Positive(t, asks(list[0]))
	require.Equal(t, next.Add(10*time.Minute), list[0].Next(at))
	require.Zero(t, asks(list[1]))
	service.out[newest().Add(6*time.Hour)] = true
	at = next.Add(10 * time.Minute)
	require.Positive(t, asks(list[1]))
	b, err := list[0].Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, newest().Add(6*time.Hour), b.Series[0].Run)
	require.Equal(t, next.Add(6*time.Hour), list[0].Next(at))
}

func TestAFailureCountsForAllForAWhile(t *testing.T) {
	at := now()
	service := newWaves(t, newest())
	sick := true
	service.lie = func(w http.ResponseWriter, _ *http.Request, _ asked) bool {
		if sick {
			w.WriteHeader(http.StatusServiceUnavailable)
		}
		return sick
	}
	list := shareAt(t, start(t, service), func() time.Time { return at }, Port{Places: []Place{{At: offshore()}}}, Port{Places: []Place{{At: offshore()}}})
	_, err := list[0].Fetch(t.Context())
	require.Equal(t, models.KindServer, kind(err))
	n := len(service.requests())
	_, err = list[1].Fetch(t.Context())
	require.Equal(t, models.KindServer, kind(err))
	require.Len(t, service.requests(), n)
	_, ok := list[1].Kept()
	require.False(t, ok)
	at, sick = at.Add(5*time.Minute), false
	_, err = list[1].Fetch(t.Context())
	require.NoError(t, err)
}

func TestAPortThatCantBeServedCostsTheOthersNothing(t *testing.T) {
	p := product(t, "hrrr")
	list, faults := Share(client(t, http.DefaultTransport), Options{Product: p, Horizon: time.Hour},
		[]Port{{Places: []Place{{At: models.Position{Lat: 27, Lon: -80}}}}, {Places: []Place{{At: models.Position{Lat: -27, Lon: -80}}}}, {}})
	require.NotNil(t, list[0])
	require.NoError(t, faults[0])
	require.Nil(t, list[1])
	require.ErrorContains(t, faults[1], "does not cover")
	require.Error(t, faults[2])
}

// Every product says how soon it is worth looking again, and every run that it
// has is the best one at some time, so that it is due.
func TestEveryRunIsDue(t *testing.T) {
	list, err := Products()
	require.NoError(t, err)
	for _, p := range list {
		require.GreaterOrEqual(t, time.Duration(p.LookAgain), 10*time.Minute, p.Name)
		if p.Listing != "" {
			continue
		}
		s := &Source{o: Options{Product: p, Horizon: 11 * 24 * time.Hour}}
		at := newest().Add(time.Duration(p.ReadyAfter))
		var starts []time.Time
		for range 4 {
			r := p.runs(at, s.want(at))[0]
			got := reading{run: r, files: make([]file, len(r.leads))}
			next := s.due(at, got)
			require.True(t, next.After(at), p.Name)
			require.LessOrEqual(t, next.Sub(at), 24*time.Hour, p.Name)
			starts = append(starts, r.start)
			at = next
		}
		require.True(t, slices.IsSortedFunc(starts, time.Time.Compare), p.Name)
		require.Len(t, slices.Compact(starts), 4, "%s: a new run each time: %v", p.Name, starts)
	}
}
