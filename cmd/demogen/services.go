package main

import (
	"bytes"
	"net/http"
	"net/http/httptest"
	"strings"
	"time"
)

// services answers for every public service of the invented coast, in the
// services' real formats. It knows no other coast.
type services struct{ mux *http.ServeMux }

func newServices() services {
	m := http.NewServeMux()
	text := func(pattern, kind string, made time.Time, body func(*http.Request) string) {
		m.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
			b := body(r)
			if b == "" {
				http.NotFound(w, r)
				return
			}
			w.Header().Set("Content-Type", kind)
			http.ServeContent(w, r, "", made, strings.NewReader(b))
		})
	}
	same := func(f func() string) func(*http.Request) string { return func(*http.Request) string { return f() } }

	text("www.ndbc.noaa.gov/data/realtime2/XAMP1.txt", "text/plain", asOf().Add(-4*time.Minute), same(pierText))
	text("www.ndbc.noaa.gov/data/realtime2/49997.txt", "text/plain", asOf().Add(-12*time.Minute), same(buoyText))
	text("www.ndbc.noaa.gov/data/realtime2/49997.spec", "text/plain", asOf().Add(-12*time.Minute), same(buoySpec))
	text("www.ndbc.noaa.gov/activestations.xml", "text/xml", asOf().Add(-7*time.Minute), same(activeStations))

	text("api.weather.gov/alerts/active", "application/geo+json", asOf().Add(-5*time.Minute), func(r *http.Request) string {
		return alerts(strings.Split(r.URL.Query().Get("zone"), ","))
	})
	text("api.weather.gov/gridpoints/XAM/60,80", "application/geo+json", issued(), same(func() string { return gridpoint(80) }))
	text("api.weather.gov/gridpoints/XAM/60,85", "application/geo+json", issued(), same(func() string { return gridpoint(85) }))
	text("api.weather.gov/points/{at}", "application/geo+json", issued(), func(r *http.Request) string { return points(r.PathValue("at")) })
	text("api.weather.gov/products/types/CWF/locations/XAM", "application/ld+json", issued(), same(productList))
	text("api.weather.gov/products/{id}", "application/ld+json", issued(), same(product))
	text("api.weather.gov/zones/forecast/AMZ997", "application/geo+json", issued(), same(func() string { return zone("AMZ997", zoneName997) }))
	text("api.weather.gov/zones/forecast/AMZ998", "application/geo+json", issued(), same(func() string { return zone("AMZ998", zoneName998) }))

	text("api.tidesandcurrents.noaa.gov/api/prod/datagetter", "application/json", asOf(), datagetter)
	text("api.tidesandcurrents.noaa.gov/mdapi/prod/webapi/stations/{name}", "application/json", asOf(), coopsStation)

	m.HandleFunc("noaa-gfs-bdp-pds.s3.amazonaws.com/{run}/{cycle}/wave/gridded/{name}", gfsWave)
	m.HandleFunc("nomads.ncep.noaa.gov/pub/data/nccf/com/rtofs/prod/{run}/{name}", rtofs)
	return services{m}
}

// RoundTrip answers without a network.
func (s services) RoundTrip(r *http.Request) (*http.Response, error) {
	rec := httptest.NewRecorder()
	s.mux.ServeHTTP(rec, r)
	resp := rec.Result()
	resp.Request = r
	return resp, nil
}

// serveBytes answers with a file that may be asked for in parts.
func serveBytes(w http.ResponseWriter, r *http.Request, made time.Time, b []byte) {
	w.Header().Set("Content-Type", "application/octet-stream")
	http.ServeContent(w, r, "", made, bytes.NewReader(b))
}

// hosts are the services' hosts.
func hosts() []string {
	return []string{"www.ndbc.noaa.gov", "api.weather.gov", "api.tidesandcurrents.noaa.gov", "noaa-gfs-bdp-pds.s3.amazonaws.com", "nomads.ncep.noaa.gov"}
}
