package app_test

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/demo"
	"forecastd/internal/words"
)

// demoConfig is the demo's configuration with one piece of text replaced.
func demoConfig(t *testing.T, pairs ...string) *config.Config {
	t.Helper()
	text := string(demo.Config())
	for i := 0; i < len(pairs); i += 2 {
		require.Contains(t, text, pairs[i])
		text = strings.ReplaceAll(text, pairs[i], pairs[i+1])
	}
	cfg, err := config.Load("test.yaml", []byte(text))
	require.NoError(t, err)
	return cfg
}

func checked(t *testing.T, cfg *config.Config, transport http.RoundTripper) []app.Finding {
	t.Helper()
	a, err := app.New(app.Options{Config: cfg, Transport: transport, Now: evening})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(context.Background())) })
	return a.Check(t.Context())
}

func print(found []app.Finding) string {
	var b strings.Builder
	for _, f := range found {
		fmt.Fprintf(&b, "%s | %s | %s\n", f.Verdict, f.What, f.Why)
	}
	return b.String()
}

func TestCheckFindsAllSound(t *testing.T) {
	found := checked(t, demoConfig(t), coast().transport(t))
	for _, f := range found {
		require.Equal(t, app.Sound, f.Verdict, "%s: %s", f.What, f.Why)
	}
	text := print(found)
	for _, want := range []string{
		"ok | port Port Amparo | clock America/New_York, office XAM\n",
		"ok | ground the Shelf edge, cell | XAM 60,80\n",
		"ok | ground North Ledge, zone | AMZ997, which binds its trips\n",
		"ok | zone AMZ998 | Amparo Inlet to North Point 20 to 60 NM\n",
		// 0.01 degrees of longitude at 27.2 N is half a mile; 0.3 are 16.
		"ok | station XAMP1 | Amparo Pier, 1 nmi from Port Amparo\n",
		"ok | station 49997 | Amparo Shelf, 16 nmi from Port Amparo\n",
		"ok | tide station 8799001 | Amparo Inlet, dock, 0 nmi from Port Amparo\n",
		"ok | inlet current station XAI0901 | Amparo Inlet, 0 nmi from Port Amparo\n",
		"ok | coastal waters text of XAM | has AMZ997, AMZ998\n",
		"ok | ground the Shelf edge, gfs-wave | reaches it, run of 18 January 12:00 UTC\n",
	} {
		require.Contains(t, text, want)
	}
}

func TestCheckFindsWhatIsNotSo(t *testing.T) {
	with := func(change func(services)) services {
		s := coast()
		change(s)
		return s
	}
	for name, tt := range map[string]struct {
		config   []string
		services services
		want     string
	}{
		"zone unknown": {
			services: with(func(s services) { s["api.weather.gov/zones/forecast/AMZ998"] = gone }),
			want:     "wrong | zone AMZ998 | the service knows no zone AMZ998, so no warning for it could ever be seen",
		},
		"zone on land": {
			config: []string{"id: AMZ998\n        for: shown", "id: FLZ999\n        for: trip"},
			want:   "doubt | zone FLZ999 | Amparo County: no zone of the sea",
		},
		"ground's zone left out": {
			services: with(func(s services) { s.point("27.3,-79.82", "marine", 60, 85, "AMZ995") }),
			want:     "wrong | ground North Ledge, zone | AMZ995 is not among the port's zones, so no warning for the ground itself would ever be seen: add {id: AMZ995, for: trip}",
		},
		"ground's zone only shown": {
			services: with(func(s services) { s.point("27.3,-79.82", "marine", 60, 85, "AMZ998") }),
			want:     "doubt | ground North Ledge, zone | AMZ998 is named, but does not bind trips",
		},
		"gridpoint moved": {
			services: with(func(s services) { s.point("27.2,-79.83", "marine", 61, 80, "AMZ997") }),
			want:     "doubt | ground the Shelf edge, cell | the service says XAM 61,80, the configuration XAM 60,80: the grid has moved, or the position has",
		},
		"ground on land": {
			services: with(func(s services) { s.point("27.2,-79.83", "land", 60, 80, "AMZ997") }),
			want:     "doubt | ground the Shelf edge, cell | XAM 60,80; land to the service",
		},
		"another clock": {
			config: []string{"zone: America/New_York", "zone: America/Chicago"},
			want:   "doubt | port Port Amparo | the clock there is America/New_York, the configuration says America/Chicago",
		},
		// New York and Panama agree in winter only.
		"another clock in summer": {
			config: []string{"zone: America/New_York", "zone: America/Panama"},
			want:   "doubt | port Port Amparo | the clock there is America/New_York, the configuration says America/Panama",
		},
		"station missing": {
			config: []string{`"49997"`, `"49979"`},
			want:   "wrong | station 49979 | not in the list of active stations: mistyped, or out of service; the nearest that report are XAMP1 (1 nmi), 49997 (16 nmi)",
		},
		"station silent": {
			config: []string{`"49997"`, `"49996"`},
			want:   "doubt | station 49996 | Silent, 16 nmi from Port Amparo; it has not reported wind or sea lately",
		},
		"station far": {
			config: []string{`"49997"`, `"49994"`},
			want:   "that far off it tells little about the grounds",
		},
		"tide station missing": {
			config: []string{`"8799001"`, `"8799002"`},
			want:   "wrong | tide station 8799002 |",
		},
		"list of stations is a web page": {
			services: with(func(s services) { s["www.ndbc.noaa.gov/activestations.xml"] = "<html>busy</html>" }),
			want:     "doubt | station XAMP1 | the answer is of no use",
		},
		"zone without text": {
			config:   []string{"id: AMZ998", "id: AMZ996"},
			services: with(func(s services) { s.zone("AMZ996", "elsewhere") }),
			want:     "doubt | coastal waters text of XAM | has nothing for AMZ996: another office may write for them",
		},
		"product of other offices": {
			config: []string{"products: [gfs-wave, rtofs]", "products: [nwps]"},
			want:   "wrong | ground the Shelf edge, nwps | no office XAM is known to make nwps",
		},
	} {
		t.Run(name, func(t *testing.T) {
			if tt.services == nil {
				tt.services = coast()
			}
			synctest.Test(t, func(t *testing.T) {
				found := checked(t, demoConfig(t, tt.config...), tt.services.transport(t))
				require.Contains(t, print(found), tt.want)
				sound := slices.ContainsFunc(found, func(f app.Finding) bool { return f.Verdict == app.Sound })
				require.True(t, sound, "one fault spoils nothing else:\n%s", print(found))
			})
		})
	}
}

// What nobody answered is neither sound nor wrong.
func TestCheckWithoutConnection(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		found := checked(t, demoConfig(t), offline())
		require.NotEmpty(t, found)
		for _, f := range found {
			require.Equal(t, app.NotAsked, f.Verdict, "%s: %s", f.What, f.Why)
			require.Contains(t, f.Why, "no connection to ")
		}
	})
}

func TestCheckInTrouble(t *testing.T) {
	for status, want := range map[int]string{
		http.StatusServiceUnavailable: "has trouble now (HTTP 503): ask again later",
		http.StatusForbidden:          "refuses to answer (HTTP 403)",
	} {
		synctest.Test(t, func(t *testing.T) {
			found := checked(t, demoConfig(t, "products: [gfs-wave, rtofs]", "use: no"), transportFunc(func(r *http.Request) (*http.Response, error) {
				return response(r, status, "{}"), nil
			}))
			require.NotEmpty(t, found)
			for _, f := range found {
				require.Equal(t, app.NotAsked, f.Verdict, "%s: %s", f.What, f.Why)
				require.Contains(t, f.Why, want)
			}
		})
	}
}

// The demo's recording holds what a call needs and no more.
func TestCheckTheDemo(t *testing.T) {
	a := demoApp(t)
	require.Equal(t, words.DemoNotice(), a.Notice())
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, f := range a.Check(ctx) {
		require.Equal(t, app.NotAsked, f.Verdict, "%s: %s", f.What, f.Why)
	}
}
