package app_test

import (
	"fmt"
	"io"
	"net/http"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/demo"
	"forecastd/internal/fetch/replay"
)

// services are the public ones as a test wants them: documents by host and
// path, with the query behind a question mark where there is one. What is not
// listed is answered by the demo's recording, and what that does not hold
// with 404, as a service does.
type services map[string]string

// gone stands for a document that the service does not have, whatever the
// recording holds.
const gone = "404"

// coast are the documents about the demo's coast that its recording lacks, in
// the shapes of the weather service's points and zones (openapi.json of
// api.weather.gov), NDBC's list of active stations and the metadata service of
// CO-OPS (Reference: COOPSAPI).
func coast() services {
	s := services{
		"www.ndbc.noaa.gov/activestations.xml": `<?xml version="1.0" encoding="UTF-8"?>
<stations created="2027-01-18T22:20:01UTC" count="6">
  <station id="xamp1" lat="27.20" lon="-79.89" elev="5" name="Amparo Pier" owner="NDBC" pgm="NDBC Meteorological/Ocean" type="fixed" met="y" currents="n"/>
  <station id="49997" lat="27.25" lon="-79.60" elev="0" name="Amparo Shelf" owner="NDBC" pgm="NDBC Meteorological/Ocean" type="buoy" met="y" currents="n"/>
  <station id="49996" lat="27.25" lon="-79.61" elev="0" name="Silent" owner="NDBC" pgm="NDBC Meteorological/Ocean" type="buoy" met="n" currents="n"/>
  <station id="49995" lat="27.3" lon="-79.5" elev="0" name="Deep" owner="NDBC" pgm="Tsunami" type="dart" met="y" currents="n"/>
  <station id="49994" lat="29.0" lon="-78.0" elev="0" name="Far out" owner="NDBC" pgm="NDBC Meteorological/Ocean" type="buoy" met="y" currents="n"/>
</stations>`,
		"api.tidesandcurrents.noaa.gov/mdapi/prod/webapi/stations/8799001.json": `{"count":1,"units":null,"stations":[{"id":"8799001","name":"Amparo Inlet, dock","lat":27.201,"lng":-79.905}]}`,
		"api.tidesandcurrents.noaa.gov/mdapi/prod/webapi/stations/XAI0901.json": `{"count":1,"units":"metric","stations":[{"id":"XAI0901","name":"Amparo Inlet","type":"H","currbin":1,"lat":27.2,"lng":-79.9}]}`,
		"api.tidesandcurrents.noaa.gov/mdapi/prod/webapi/stations.json?type=tidepredictions": `{"count":3,"units":null,"stations":[
 {"id":"8799009","name":"Up the coast","lat":27.9,"lng":-79.9},
 {"id":"8799001","name":"Amparo Inlet, dock","lat":27.201,"lng":-79.905},
 {"id":"TEC9999","name":"right there, under another sort of id","lat":27.2,"lng":-79.9}]}`,
		"api.tidesandcurrents.noaa.gov/mdapi/prod/webapi/stations.json?type=currentpredictions": `{"count":2,"units":"meters","stations":[
 {"id":"XAI0901","name":"Amparo Inlet","type":"H","currbin":1,"depth":4,"lat":27.21,"lng":-79.91},
 {"id":"XAI0902","name":"Off Amparo","type":"W","currbin":1,"depth":4,"lat":27.2,"lng":-79.9}]}`,
	}
	s.zone("AMZ997", "Amparo Inlet to North Point out 20 NM")
	s.zone("AMZ998", "Amparo Inlet to North Point 20 to 60 NM")
	s.zone("FLZ999", "Amparo County")
	s.point("27.2,-79.9", "land", 57, 80, "FLZ999") // the port
	s.point("27.2,-79.83", "marine", 60, 80, "AMZ997")
	s.point("27.3,-79.82", "marine", 60, 85, "AMZ997")
	return s
}

func (s services) zone(id, name string) {
	s["api.weather.gov/zones/forecast/"+id] = fmt.Sprintf(
		`{"type":"Feature","properties":{"id":%q,"type":"coastal","name":%q,"cwa":["XAM"],"timeZone":["America/New_York"]}}`, id, name)
}

func (s services) point(at, kind string, x, y int, zone string) {
	s["api.weather.gov/points/"+at] = fmt.Sprintf(
		`{"type":"Feature","properties":{"cwa":"XAM","type":%q,"gridId":"XAM","gridX":%d,"gridY":%d,"forecastZone":"https://api.weather.gov/zones/forecast/%s","timeZone":"America/New_York"}}`,
		kind, x, y, zone)
}

// transport answers with the documents and the demo's recording.
func (s services) transport(t *testing.T) http.RoundTripper {
	t.Helper()
	recording, err := replay.Open(demo.Recording(), evening)
	require.NoError(t, err)
	return transportFunc(func(r *http.Request) (*http.Response, error) {
		key := r.URL.Host + r.URL.Path
		if r.URL.RawQuery != "" {
			key += "?" + r.URL.RawQuery
		}
		doc, ok := s[key]
		if ok && doc == gone {
			return response(r, http.StatusNotFound, `{"title":"Not Found","type":"https://api.weather.gov/problems/NotFound","status":404,"detail":"not found"}`), nil
		}
		if !ok {
			resp, err := recording.RoundTrip(r)
			if err == nil {
				return resp, nil
			}
			return response(r, http.StatusNotFound, `{"title":"Not Found","type":"https://api.weather.gov/problems/NotFound","status":404,"detail":"not found"}`), nil
		}
		return response(r, http.StatusOK, doc), nil
	})
}

func response(r *http.Request, status int, body string) *http.Response {
	kind := "application/json"
	if strings.HasPrefix(body, "<?xml") {
		kind = "application/xml"
	}
	return &http.Response{
		StatusCode: status, Request: r, Header: http.Header{"Content-Type": {kind}},
		Body: io.NopCloser(strings.NewReader(body)), ContentLength: int64(len(body)),
	}
}

// offline is a machine without any connection.
func offline() http.RoundTripper {
	return transportFunc(func(*http.Request) (*http.Response, error) {
		return nil, fmt.Errorf("dial: %w", syscall.ECONNREFUSED)
	})
}
