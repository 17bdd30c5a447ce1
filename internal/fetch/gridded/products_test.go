package gridded

import (
	"bytes"
	"fmt"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch"
	"forecastd/internal/fetch/fetchtest"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

const nwpsRoot = "/pub/data/nccf/com/nwps/prod/sr."

// nearshore serves a file made like the local office's, in folders as they
// stand there.
func nearshore(t testing.TB) *http.ServeMux {
	body := synthetic(t, "synthetic_nwps_like_cg__simple_bitmap_scan64_shape6_with_radius.grib2")
	folder := func(hours ...string) http.HandlerFunc {
		return func(w http.ResponseWriter, r *http.Request) {
			io.WriteString(w, `<html><body><a href="../">Parent Directory</a>`)
			for _, h := range hours {
				fmt.Fprintf(w, `<a href="%s/">%s/</a>`, h, h)
			}
			io.WriteString(w, "</body></html>")
		}
	}
	m := http.NewServeMux()
	m.Handle(nwpsRoot+"20261124/mfl/{$}", folder("00", "12"))
	m.Handle(nwpsRoot+"20261123/mfl/{$}", folder("06", "18"))
	m.HandleFunc(nwpsRoot+"20261124/mfl/12/CG1/mfl_nwps_CG1_20261124_1200.grib2", func(w http.ResponseWriter, r *http.Request) {
		w.Write(body)
	})
	return m
}

func nearshoreOptions(t testing.TB) Options {
	at := time.Date(2026, 11, 24, 15, 0, 0, 0, time.UTC)
	return Options{
		Product: product(t, "nwps"), Office: "MFL", Horizon: 24 * time.Hour, MaxAge: time.Hour,
		Places: []Place{{Ground: "the edge", At: models.Position{Lat: 25.8, Lon: -79.5}}}, Now: func() time.Time { return at },
	}
}

// between holds a value against the four grid points around it, as ecCodes
// 2.28 lists them (grib_get -l LAT,LON).
func between(t testing.TB, x float64, corners ...float64) {
	t.Helper()
	lo, hi := corners[0], corners[0]
	for _, c := range corners {
		lo, hi = min(lo, c), max(hi, c)
	}
	require.GreaterOrEqual(t, x, lo-1e-4)
	require.LessOrEqual(t, x, hi+1e-4)
}

func TestNearshore(t *testing.T) {
	s := newSource(t, start(t, nearshore(t)), nearshoreOptions(t))
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	require.Len(t, b.Series, 1)
	hours := b.Series[0].Hours
	require.Equal(t, time.Date(2026, 11, 24, 12, 0, 0, 0, time.UTC), b.Series[0].Run)
	require.Len(t, hours, 2)
	between(t, float64(hours[0].Sea.Or(0)), 1.02120, 0.96017, 1.00314, 0.94698)
	between(t, hours[1].Period.Or(0), 7.80132, 7.79693, 7.65386, 7.64947)
	between(t, float64(hours[1].SeaFrom.Or(0)), 93.90161, 100.68188, 92.35425, 98.57934)
	between(t, float64(hours[1].Wind.Or(0)), 4.41360, 4.00833, 4.54349, 4.17142)
	require.False(t, hours[1].Current.Known(), "a current whose direction nobody documents is none")
	require.Contains(t, b.Notes, product(t, "nwps").Note)
	require.Contains(t, b.Notes, "the model gives no wind from (WDIR)")
}

func TestNearshoreContract(t *testing.T) {
	limited := []models.Kind{models.KindRateLimited}
	fetchtest.Run(t, fetchtest.Case{
		New: func(t testing.TB, transport http.RoundTripper, base string) fetch.Source {
			o := nearshoreOptions(t)
			o.Base = base
			s, err := New(client(t, transport), o)
			require.NoError(t, err)
			return s
		},
		Service:  nearshore(t),
		Lasting:  true,
		Oversize: maxWhole + 1<<20,
		Probe:    func(r *http.Request) bool { return strings.HasSuffix(r.URL.Path, "/") },
		// The service says by these that it has had enough.
		// A listing cut short may hold no run.
		Also: map[fetchtest.Fault][]models.Kind{fetchtest.Forbidden: limited, fetchtest.WebPage: limited, fetchtest.Elsewhere: limited,
			fetchtest.CutShort: {models.KindNotFound}},
	})
}

func TestServiceHasEnough(t *testing.T) {
	for name, answer := range map[string]http.HandlerFunc{
		"refuses": func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusForbidden) },
		"sends elsewhere": func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "http://elsewhere.invalid/", http.StatusFound)
		},
		"shows a page": func(w http.ResponseWriter, r *http.Request) {
			io.WriteString(w, "<html><body>abusive user</body></html>")
		},
	} {
		for _, where := range []string{"folder", "file"} {
			t.Run(name+" in place of the "+where, func(t *testing.T) {
				asked := 0
				h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
					asked++
					if strings.HasSuffix(r.URL.Path, "/") == (where == "folder") {
						answer(w, r)
						return
					}
					nearshore(t).ServeHTTP(w, r)
				})
				_, err := newSource(t, start(t, h), nearshoreOptions(t)).Fetch(t.Context())
				require.Equal(t, models.KindRateLimited, kind(err), "%v", err)
				var e *models.Error
				require.ErrorAs(t, err, &e)
				require.Equal(t, blocked, e.RetryAfter)
				require.LessOrEqual(t, asked, 3, "and is left alone")
			})
		}
	}
}

func TestNoOffice(t *testing.T) {
	for office, want := range map[string]string{"": "set the port's text_office", "XAM": "no office XAM is known to make nwps"} {
		o := nearshoreOptions(t)
		o.Office = office
		_, err := newSource(t, "http://127.0.0.1:1", o).Fetch(t.Context())
		require.Equal(t, models.KindBadConfig, kind(err))
		require.ErrorContains(t, err, want)
	}
}

func TestOceanModel(t *testing.T) {
	body := synthetic(t, "synthetic_rtofs_like_uogrd_vogrd_wtmp__simple_bitmap_scan64_La2Lo2_off_by_one.grb2")
	m := http.NewServeMux()
	var asked []string
	m.HandleFunc("/pub/data/nccf/com/rtofs/prod/rtofs.20261124/{name}", func(w http.ResponseWriter, r *http.Request) {
		asked = append(asked, r.PathValue("name"))
		if r.PathValue("name") != "rtofs_glo.t00z.f024_west_atl_std.grb2" {
			http.NotFound(w, r)
			return
		}
		w.Write(body)
	})
	at := time.Date(2026, 11, 24, 9, 0, 0, 0, time.UTC)
	s := newSource(t, start(t, m), Options{
		Product: product(t, "rtofs"), Horizon: 12 * time.Hour, Now: func() time.Time { return at },
		Places: []Place{{Ground: "the edge", At: models.Position{Lat: 26, Lon: -79.4}}},
	})
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	require.Equal(t, []string{"rtofs_glo.t00z.f024_west_atl_std.grb2"}, asked)
	hours := b.Series[0].Hours
	require.Len(t, hours, 3)
	for i, h := range hours {
		require.Equal(t, time.Date(2026, 11, 24, 1+i, 0, 0, 0, time.UTC), h.At)
		up := 0.02 * float64(i) // each hour is that much stronger, by ecCodes
		v := units.FlowVector(h.Current.Or(0), h.CurrentToward.Or(0))
		between(t, float64(v.East), 0.02, 0.05)
		between(t, float64(v.North), 0.83+up, 1.16+up)
		between(t, h.Water.Or(0).Kelvin(), 299.94+0.1*float64(i), 300.25+0.1*float64(i))
	}
	_, err = s.Fetch(t.Context())
	require.NoError(t, err)
	require.Len(t, asked, 1, "the file is not read again")
}

// A file whose end is broken gives what is before it, and is asked for again,
// but not for ever.
func TestBrokenFile(t *testing.T) {
	body := synthetic(t, "synthetic_rtofs_like_uogrd_vogrd_wtmp__simple_bitmap_scan64_La2Lo2_off_by_one.grb2")
	asked := 0
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked++
		w.Write(body[:len(body)-100])
	})
	at := time.Date(2026, 11, 24, 9, 0, 0, 0, time.UTC)
	s := newSource(t, start(t, h), Options{
		Product: product(t, "rtofs"), Horizon: 12 * time.Hour, Now: func() time.Time { return at },
		Places: []Place{{Ground: "the edge", At: models.Position{Lat: 26, Lon: -79.4}}},
	})
	for range 5 {
		b, err := s.Fetch(t.Context())
		require.NoError(t, err)
		require.Len(t, b.Series[0].Hours, 3)
		require.False(t, b.Series[0].Hours[2].Current.Known())
		require.True(t, b.Series[0].Hours[2].Water.Known())
		require.Len(t, b.Notes, 1)
		require.Contains(t, b.Notes[0], "1 messages of a file could not be read: message 9: ")
	}
	require.Equal(t, mostAsks, asked)
}

// The real wave field of the European model, with an index as it stands beside
// it. Its only message is the height.
func TestEuropeanWaves(t *testing.T) {
	run := time.Date(2026, 6, 28, 0, 0, 0, 0, time.UTC)
	body := extract(t, "ecmwf_aifs_swh_0p25__drt42_ccsds_bitmap.grib2")
	h := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		var lead int
		var rest string
		fmt.Sscanf(r.URL.Path, "/forecasts/20260628/00z/ifs/0p25/wave/20260628000000-%dh-wave-fc.%s", &lead, &rest)
		switch rest {
		case "index":
			fmt.Fprintf(w, `{"date":"20260628","time":"0000","step":"%d","levtype":"sfc","param":"swh","_offset":0,"_length":%d}`+"\n", lead, len(body))
		case "grib2":
			http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(retime(body, run, lead)))
		default:
			http.NotFound(w, r)
		}
	})
	s := newSource(t, start(t, h), Options{Product: product(t, "ecmwf-wave"), Horizon: 6 * time.Hour, Now: func() time.Time { return run.Add(9 * time.Hour) }})
	b, err := s.Fetch(t.Context())
	require.NoError(t, err)
	require.Len(t, b.Series[0].Hours, 4)
	require.Equal(t, run.Add(6*time.Hour), b.Series[0].Hours[0].At)
	for _, h := range b.Series[0].Hours {
		between(t, float64(h.Sea.Or(0)), 0.44240, 0.45900, 0.57448, 0.56007)
	}
	require.Equal(t, "run of 28 Jun 00:00 UTC; ECMWF open data, CC BY 4.0", b.From[0].Detail)
	require.Equal(t, []string{"the model gives no period at some hours (pp1d)", "the model gives no sea from at some hours (mwd)"}, b.Notes)
}
