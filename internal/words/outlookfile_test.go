package words_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/testdata"
	"forecastd/internal/words"
)

func TestOutlookFilesReadBackTheSame(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(testdata.Cases(t), "outlooks", "*.json"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			b, err := os.ReadFile(name)
			require.NoError(t, err)
			first, err := words.ReadOutlook(b)
			require.NoError(t, err)
			require.NotEmpty(t, first.Middle.Hours)
			written, err := words.WriteOutlook(first)
			require.NoError(t, err)
			again, err := words.ReadOutlook(written)
			require.NoError(t, err)
			require.Equal(t, first, again)
		})
	}
}

const small = `{"schema":"forecastd.outlook.v1","made":"2027-01-18T22:00:00Z","date":"2027-01-19",
"port":{"name":"Port Amparo","lat":27.2,"lon":-80.1,"time_zone":"America/New_York","shore_normal_deg":90},
"ground":{"name":"the edge","lat":27.2,"lon":-80,"depth_ft":150,"run_min":30},
"boat":{"kind":"center console","length_ft":39,"tower_ft":20,"helium_aboard":true,"crew":3},
"trip":{"kind":"charter","party":"mixed","start":"07:00","end":"16:00","lines_in":null,"lines_out":null,"passengers_for_hire":true},
"reports":{},"hours":[{"at":"2027-01-19T12:00:00Z","wind_kn":0}],"warnings":null,"overrides":[]}`

func TestNullAndAbsentAreUnknownAndZeroIsNot(t *testing.T) {
	o, err := words.ReadOutlook([]byte(small))
	require.NoError(t, err)
	h := o.Middle.Hours[0]
	wind, known := h.Wind.Get()
	require.True(t, known, "a calm is known")
	require.Zero(t, wind)
	require.False(t, h.Sea.Known())
	require.False(t, o.Warnings.Known(), "null warnings are an unknown feed, not none")
}

func TestOutlookFileErrorsTellWhatToMend(t *testing.T) {
	for _, c := range []struct{ name, old, new, want string }{
		{"unknown key", `"wind_kn"`, `"wind_knots"`, `unknown field "wind_knots"`},
		{"schema", "outlook.v1", "outlook.v9", `schema is "forecastd.outlook.v9": this program reads "forecastd.outlook.v1"`},
		{"zone", "America/New_York", "America/New_Yrok", `"America/New_Yrok" is no IANA time zone`},
		{"party", `"mixed"`, `"pirates"`, `trip.party: "pirates": use one of ["experienced" "mixed" "family"]`},
		{"impossible", `"wind_kn":0`, `"wind_kn":-3`, `hours[0].wind_kn: out of range: write null where it is unknown`},
		{"backwards", `"16:00"`, `"06:00"`, `end 06:00 is not after start 07:00`},
		{"syntax", `"overrides":[]}`, `"overrides":[}`, `line 6, column`},
		{"trailing", `"overrides":[]}`, `"overrides":[]} {}`, `keep one outlook a file`},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := []byte(replaceOnce(t, small, c.old, c.new))
			_, err := words.ReadOutlook(b)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func replaceOnce(t *testing.T, s, old, new string) string {
	t.Helper()
	i := strings.Index(s, old)
	require.GreaterOrEqual(t, i, 0)
	return s[:i] + new + s[i+len(old):]
}

func FuzzReadOutlook(f *testing.F) {
	f.Add([]byte(small))
	f.Fuzz(func(t *testing.T, b []byte) {
		o, err := words.ReadOutlook(b)
		if err != nil {
			return
		}
		w, err := words.WriteOutlook(o)
		require.NoError(t, err)
		_, err = words.ReadOutlook(w)
		require.NoError(t, err)
	})
}
