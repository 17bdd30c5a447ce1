package app_test

import (
	"encoding/json"
	"flag"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/demo"
	"forecastd/internal/fetch/replay"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// evening is when the demo's day is called.
func evening() time.Time { return time.Date(2027, 1, 18, 22, 30, 0, 0, time.UTC) }

// demoApp is the demo with some services cut off: a request whose address
// contains one of the words fails as an unreachable host does.
func demoApp(t *testing.T, cut ...string) *app.App {
	t.Helper()
	return demoAppWith(t, func(*config.Config) {}, cut...)
}

func demoAppWith(t *testing.T, change func(*config.Config), cut ...string) *app.App {
	t.Helper()
	cfg, err := config.Load(demo.ConfigName, demo.Config())
	require.NoError(t, err)
	change(cfg)
	recording, err := replay.Open(demo.Recording(), evening)
	require.NoError(t, err)
	transport := transportFunc(func(r *http.Request) (*http.Response, error) {
		for _, word := range cut {
			if strings.Contains(r.URL.String(), word) {
				return &http.Response{StatusCode: http.StatusNotFound, Body: http.NoBody, Request: r, Header: http.Header{}}, nil
			}
		}
		return recording.RoundTrip(r)
	})
	a, err := app.New(app.Options{Config: cfg, Transport: transport, Now: evening, Demo: true})
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, a.Stop(t.Context())) })
	return a
}

type transportFunc func(*http.Request) (*http.Response, error)

func (f transportFunc) RoundTrip(r *http.Request) (*http.Response, error) { return f(r) }

func called(t *testing.T, a *app.App) app.Called {
	t.Helper()
	c, err := a.CallFor(t.Context(), app.CallRequest{})
	require.NoError(t, err)
	return c
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	name = filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(name, []byte(got), 0o644))
	}
	want, err := os.ReadFile(name)
	require.NoError(t, err, "run with -update once")
	require.Equal(t, string(want), got)
}

func TestDemoCallGolden(t *testing.T) {
	c := called(t, demoApp(t))
	golden(t, "demo-call.golden.txt", c.Text(false))
	require.True(t, strings.HasPrefix(c.Text(false), words.DemoNotice()))
}

// The call in Spanish: read aloud line by line when it was made, and to be
// read so again whenever it changes.
func TestDemoCallInSpanish(t *testing.T) {
	c := called(t, demoApp(t))
	c.Reader.Language = words.Spanish
	text := c.Text(false)
	golden(t, "demo-call-es.golden.txt", text)
	require.True(t, strings.HasPrefix(text, words.DemoNoticeIn(words.Spanish)))
	golden(t, "demo-load-es.golden.txt", app.LoadLists([]app.Called{c}))
	whatif, err := c.WhatIf([]string{"wind +8kn"}, models.DefaultLimits())
	require.NoError(t, err)
	golden(t, "demo-whatif-es.golden.txt", whatif)
}

func TestDemoDay(t *testing.T) {
	c := called(t, demoApp(t))
	require.Empty(t, c.Outlook.Missing, "the demo has every input")
	require.Len(t, c.Call.Warnings.Or(nil), 1)
	// The advisory begins at 15:00, and from 14:00 on half of the scenarios pass
	// one limit or another: back inside an hour before that.
	require.Equal(t, "18:00", c.Call.Back.Or(time.Time{}).Format("15:04"))
	require.Equal(t, models.TacticKite, c.Call.Tactic)
	stable := 0
	for _, h := range c.Call.Hours {
		require.Equal(t, "stability", h.Conditions.ProfileMethod)
		air, sea := h.Conditions.Air.Or(0), h.Conditions.Water.Or(0)
		if air.Sub(sea).Kelvin() > 2 && float64(h.Conditions.KiteWind.Or(0)) > 1.3*float64(h.Conditions.Wind.Or(0)) {
			stable++
		}
	}
	require.Positive(t, stable, "warm air over cool water: kites meet a third more wind than the anemometer")
}

func TestTheDayAfterHasTheWindAgainstTheCurrent(t *testing.T) {
	a := demoApp(t)
	c, err := a.CallFor(t.Context(), app.CallRequest{Date: models.Date{Year: 2027, Month: 1, Day: 20}})
	require.NoError(t, err)
	noon := c.Call.Hours[8].Conditions
	require.Greater(t, noon.Opposition.Or(0), 0.85)
	require.GreaterOrEqual(t, c.Call.Hours[8].Sight, models.GradePoor, "no edge has been reported, so no more than that")
}

func TestSameDataSameCall(t *testing.T) {
	a, b := called(t, demoApp(t)), called(t, demoApp(t))
	require.Equal(t, a.Text(true), b.Text(true))
	x, err := a.JSON(true)
	require.NoError(t, err)
	y, err := b.JSON(true)
	require.NoError(t, err)
	require.JSONEq(t, string(x), string(y))
}

func TestASavedOutlookGivesTheSameCall(t *testing.T) {
	c := called(t, demoApp(t))
	file, err := c.OutlookFile()
	require.NoError(t, err)
	again, err := app.CallOutlookFile(file, models.DefaultLimits(), models.Unknown[time.Time]())
	require.NoError(t, err)
	require.Equal(t, c.Outlook.Middle, again.Outlook.Middle)
	require.Equal(t, c.Outlook.Members, again.Outlook.Members)
	require.Equal(t, c.Call.Tactic, again.Call.Tactic)
	require.Equal(t, c.Call.Leave, again.Call.Leave)
	require.Equal(t, c.Call.Back, again.Call.Back)
	require.Equal(t, c.Call.Agreement, again.Call.Agreement)
	for i, h := range c.Call.Hours {
		require.Equal(t, h.Do, again.Call.Hours[i].Do)
	}
	require.Contains(t, again.Text(false), words.DemoNotice(), "a saved demo stays a demo")
}

func TestEveryOutputOfTheDemoSaysSo(t *testing.T) {
	c := called(t, demoApp(t))
	b, err := c.JSON(false)
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(b, &doc))
	require.Equal(t, true, doc["demo"])
	require.Equal(t, words.DemoNotice(), doc["notice"])
	file, err := c.OutlookFile()
	require.NoError(t, err)
	require.Contains(t, string(file), `"demo": true`)
}

// outlookKeys are the keys of the documents that design.md prescribes.
func TestCallDocumentHasThePrescribedKeys(t *testing.T) {
	b, err := called(t, demoApp(t)).JSON(false)
	require.NoError(t, err)
	var doc map[string]any
	require.NoError(t, json.Unmarshal(b, &doc))
	for _, k := range []string{"schema", "date", "verdict", "tactic", "timing", "leave", "back", "confidence", "agreement", "members", "hours",
		"charter", "warnings", "reasons", "would_change", "missing", "spread", "load", "drift", "sources"} {
		require.Contains(t, doc, k)
	}
	require.Equal(t, "forecastd.call.v1", doc["schema"])
	hour := doc["hours"].([]any)[0].(map[string]any)
	for _, k := range []string{"at", "kite", "sight", "ride", "closed", "do"} {
		require.Contains(t, hour, k)
	}
	charter := doc["charter"].(map[string]any)
	for _, k := range []string{"actions", "start", "end", "offer", "message"} {
		require.Contains(t, charter, k)
	}
}

// Sources fail one by one, then all.
func TestSourcesFail(t *testing.T) {
	whole := called(t, demoApp(t)).Call
	services := map[string]string{
		"alerts": "/alerts/", "gridpoint": "/gridpoints/", "coastal text": "/products/", "buoys": "ndbc", "tides": "tidesandcurrents",
		"waves": "gfswave", "current": "rtofs",
	}
	for name, word := range services {
		t.Run(name, func(t *testing.T) {
			c := called(t, demoApp(t, word))
			require.LessOrEqual(t, c.Call.Agreement, whole.Agreement, "less is known: the call is no surer")
			require.NotEmpty(t, c.Outlook.Missing)
			text := c.Text(false)
			require.Contains(t, text, "Missing or old")
			for i, h := range c.Call.Hours {
				if h.Kite > whole.Hours[i].Kite || h.Ride < whole.Hours[i].Ride {
					// Another source may stand in with other numbers, but
					// what nobody knows is never taken as good.
					require.True(t, h.Conditions.Wind.Known() && h.Conditions.Sea.Known(), "%s", h.At)
				}
			}
			if name == "alerts" {
				require.Contains(t, text, "Official warnings: UNKNOWN")
				require.NotContains(t, strings.ToLower(text), "none in force")
				require.False(t, c.Call.Warnings.Known())
			}
		})
	}
	t.Run("all", func(t *testing.T) {
		var cut []string
		for _, word := range services {
			cut = append(cut, word)
		}
		_, err := demoApp(t, cut...).CallFor(t.Context(), app.CallRequest{})
		var none *app.NoCallError
		require.ErrorAs(t, err, &none)
		require.ErrorContains(t, err, "no call can be made for 2027-01-19")
		require.ErrorContains(t, err, "listen to the official broadcast")
	})
}

// The invented constants of the demo's stations are those that its recorded
// predictions were made from.
func TestTidesAreComputedWhileTheServiceIsDown(t *testing.T) {
	online, offline := called(t, demoApp(t)), called(t, demoApp(t, "tidesandcurrents"))
	require.Contains(t, offline.Text(false), "tide constants station 8799001, computed here")
	require.Len(t, offline.Call.Tides, len(online.Call.Tides))
	for i, e := range online.Call.Tides {
		require.Equal(t, e.Kind, offline.Call.Tides[i].Kind)
		require.InDelta(t, 0, offline.Call.Tides[i].At.Sub(e.At).Minutes(), 1)
	}
	require.NotEmpty(t, offline.Call.Streams)
	for _, h := range offline.Call.Hours {
		require.True(t, h.Conditions.InletCurrent.Known(), "%s", h.At)
	}
}

// Offsets of NOAA's stations Content Keys (on Key West: high water 166 min
// later and 2.13 times as high, low 229 min and 1.83) and ACT8126 (on Miami
// Harbor Entrance: slack before flood -14 min, flood -1 min and 1.4 times,
// slack before ebb +28, ebb +52 and 0.8 times) put on the invented constants.
func TestAnInletWithOffsetsOnlyHasItsOwnTideWhileTheServiceIsDown(t *testing.T) {
	const service = "tidesandcurrents"
	reference := called(t, demoApp(t, service)).Call
	own := called(t, demoAppWith(t, func(c *config.Config) {
		tides, streams := c.Ports[0].Tide.Or(config.TideStation{}), c.Ports[0].Current.Or(config.CurrentStation{})
		tides.Offsets = models.Known(config.TideOffsets{High: 166 * time.Minute, Low: 229 * time.Minute, HighRatio: 2.13, LowRatio: 1.83})
		streams.Offsets = models.Known(config.StreamOffsets{
			SlackBeforeFlood: -14 * time.Minute, Flood: -time.Minute, SlackBeforeEbb: 28 * time.Minute, Ebb: 52 * time.Minute, FloodRatio: 1.4, EbbRatio: 0.8,
		})
		c.Ports[0].Tide, c.Ports[0].Current = models.Known(tides), models.Known(streams)
	}, service)).Call
	met := 0
	for _, r := range reference.Tides {
		later, ratio := 166*time.Minute, units.Length(2.13)
		if r.Kind == models.LowWater {
			later, ratio = 229*time.Minute, 1.83
		}
		for _, e := range own.Tides {
			if e.Kind == r.Kind && e.At.Sub(r.At.Add(later)).Abs() < 5*time.Second { // each search stops within seconds
				met++
				require.InDelta(t, float64(r.Height*ratio), float64(e.Height), 1e-4)
			}
		}
	}
	require.GreaterOrEqual(t, met, len(own.Tides)-1, "one may come of an event of the day before")
	met = 0
	for _, r := range reference.Streams {
		later, ratio := -time.Minute, units.Speed(1.4)
		if r.Kind == models.Ebb {
			later, ratio = 52*time.Minute, 0.8
		}
		for _, e := range own.Streams {
			if r.Kind != models.Slack && e.Kind == r.Kind && e.At.Sub(r.At.Add(later)).Abs() < 5*time.Second {
				met++
				require.InDelta(t, float64(r.Speed*ratio), float64(e.Speed), 1e-4)
			}
		}
	}
	require.GreaterOrEqual(t, met, 2)
}

func TestLifeCycle(t *testing.T) {
	_, err := app.New(app.Options{})
	require.Error(t, err)
	a := demoApp(t)
	require.NoError(t, a.Start(t.Context()))
	require.Error(t, a.Start(t.Context()), "started twice")
	require.NoError(t, a.Stop(t.Context()))
	require.NoError(t, a.Stop(t.Context()), "stopping twice does no harm")
}
