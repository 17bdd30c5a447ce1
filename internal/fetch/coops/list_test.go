package coops

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
)

// The shape is that of the metadata service's list of stream predictions
// (Reference: COOPSAPI): an id once per depth bin, type H, S or W, depth may be
// null. The stations are invented.
const listed = `{"count":5,"units":"meters","stations":[
 {"currbin":13,"type":"H","depth":6.0,"depthType":"B","id":"XAI0901","name":"Amparo Inlet","lat":27.2,"lng":-79.9},
 {"currbin":1,"type":"H","depth":14.0,"depthType":"B","id":"XAI0901","name":"Amparo Inlet","lat":27.2,"lng":-79.9},
 {"currbin":1,"type":"S","depth":null,"depthType":"U","id":"XAI0902","name":"Amparo Bridge","lat":"27.21","lng":"-79.95"},
 {"currbin":1,"type":"W","depth":null,"id":"XAI0903","name":"Off Amparo","lat":27.3,"lng":-79.5},
 {"currbin":1,"type":"H","id":"XAI0904","name":"nowhere","lat":null,"lng":-79.5},
 {"currbin":1.5,"type":"H","id":"XAI0905","name":"half a bin","lat":27,"lng":-79.5}]}`

func TestParseStations(t *testing.T) {
	got, odd, err := ParseStations([]byte(listed))
	require.NoError(t, err)
	require.Equal(t, []Listed{
		{StationInfo{"XAI0901", "Amparo Inlet", models.Position{Lat: 27.2, Lon: -79.9}}, 13},
		{StationInfo{"XAI0902", "Amparo Bridge", models.Position{Lat: 27.21, Lon: -79.95}}, 1},
	}, got)
	require.Equal(t, []Oddity{{"station without a readable id, position or bin", 2}, {"stream too weak and variable to predict", 1}}, odd)
}

func TestParseStationsRefuses(t *testing.T) {
	for name, tt := range map[string]struct{ body, want string }{
		"no list":           {`{"count":0}`, "no list of stations"},
		"an empty list":     {`{"stations":[]}`, "there is none in it"},
		"nothing of use":    {`{"stations":[{"id":"X","lat":1,"lng":1}]}`, "there is none in it"},
		"an error with 200": {`{"error":{"message":"Try again later."}}`, "Try again later"},
		"HTML":              {`<html>`, "read the document"},
	} {
		t.Run(name, func(t *testing.T) {
			_, _, err := ParseStations([]byte(tt.body))
			require.ErrorContains(t, err, tt.want)
		})
	}
}

func FuzzParseStations(f *testing.F) {
	f.Add([]byte(listed))
	f.Add([]byte(strings.Replace(listed, "27.2", "1e400", 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		list, _, err := ParseStations(data)
		require.Equal(t, err == nil, len(list) > 0)
		for _, s := range list {
			require.True(t, ValidID(s.ID) && s.At.Valid() && s.Bin >= 0)
		}
	})
}
