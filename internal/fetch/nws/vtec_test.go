package nws

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/testdata"
)

// utc reads "2006-01-02T15:04".
func utc(t testing.TB, s string) time.Time {
	t.Helper()
	at, err := time.Parse("2006-01-02T15:04", s)
	require.NoError(t, err)
	return at
}

func obs(t testing.TB, name string) []byte {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(testdata.Dir(t, "obs"), name))
	require.NoError(t, err)
	return b
}

func TestParseVTEC(t *testing.T) {
	// Real strings: Special Marine Warning, Miami 2017 and an advisory under
	// way, Key West 2025.
	v := ParseVTEC("AMZ630-651-240215-\n/O.NEW.KMFL.MA.W.0059.170324T0137Z-170324T0215Z/\n")
	require.Len(t, v, 1)
	require.Equal(t, VTEC{
		Raw: "/O.NEW.KMFL.MA.W.0059.170324T0137Z-170324T0215Z/", Class: "O", Action: ActionNew, Office: "KMFL",
		Phenomenon: "MA", Significance: "W", Number: 59,
		Begin: models.Known(utc(t, "2017-03-24T01:37")), End: models.Known(utc(t, "2017-03-24T02:15")),
	}, v[0])
	require.Equal(t, "Special Marine Warning", v[0].Event())

	v = ParseVTEC("/O.CON.KKEY.SC.Y.0038.000000T0000Z-251216T1000Z/")
	require.Len(t, v, 1)
	require.False(t, v[0].Begin.Known(), "already under way")
	require.False(t, v[0].OpenEnd)
}

func TestParseVTECTimes(t *testing.T) {
	for name, c := range map[string]struct {
		in         string
		begin, end models.Opt[time.Time]
		open       bool
	}{
		"until further notice": {
			in:    "/O.NEW.KMFL.TR.W.1004.240801T1200Z-000000T0000Z/",
			begin: models.Known(utc(t, "2024-08-01T12:00")), open: true,
		},
		// Years 1969 and 1970 have been seen in real products.
		"1970":           {in: "/O.CON.KSEW.FL.W.0004.700101T0000Z-240101T0000Z/", end: models.Known(utc(t, "2024-01-01T00:00"))},
		"1969":           {in: "/O.CON.KSEW.FL.W.0004.000000T0000Z-691231T2359Z/"},
		"no such month":  {in: "/O.CON.KSEW.FL.W.0004.241301T0000Z-240101T0000Z/", end: models.Known(utc(t, "2024-01-01T00:00"))},
		"no such minute": {in: "/O.CON.KSEW.FL.W.0004.240101T0060Z-240101T0000Z/", end: models.Known(utc(t, "2024-01-01T00:00"))},
	} {
		t.Run(name, func(t *testing.T) {
			v := ParseVTEC(c.in)
			require.Len(t, v, 1)
			require.Equal(t, c.begin, v[0].Begin)
			require.Equal(t, c.end, v[0].End)
			require.Equal(t, c.open, v[0].OpenEnd)
		})
	}
}

func TestParseVTECFindsAllInOrder(t *testing.T) {
	// A real segment of the marine weather message of Juneau, March 2026.
	v := ParseVTEC("PKZ032-022015-\n/O.EXT.PAJK.SC.Y.0081.260302T1500Z-260303T1500Z/\n/O.CAN.PAJK.SC.Y.0080.260303T0300Z-260303T1500Z/\n")
	require.Len(t, v, 2)
	require.Equal(t, []Action{ActionExtend, ActionCancel}, []Action{v[0].Action, v[1].Action})
	require.Equal(t, []int{81, 80}, []int{v[0].Number, v[1].Number})

	require.False(t, ParseVTEC("/T.NEW.KMFL.GL.W.0001.240101T0000Z-240102T0000Z/")[0].Operational())
	require.Empty(t, ParseVTEC("/00000.0.ER.000000T0000Z.000000T0000Z.000000T0000Z.OO/"), "a hydrologic code is no event")
	require.Empty(t, ParseVTEC("/O.XXX.KMFL.GL.W.0001.240101T0000Z-240102T0000Z/"))
	require.Empty(t, ParseVTEC(""))
}

// TestRealVTEC reads every string of three real feeds; the feeds name the
// event beside each.
func TestRealVTEC(t *testing.T) {
	lines := strings.Split(strings.TrimSpace(string(obs(t, "vtec_strings_from_alert_feeds.tsv"))), "\n")
	named, n := 0, 0
	for _, l := range lines {
		if strings.HasPrefix(l, "#") {
			continue
		}
		raw, rest, ok := strings.Cut(l, "\t")
		require.True(t, ok, l)
		v := ParseVTEC(raw)
		require.Len(t, v, 1, raw)
		require.Equal(t, raw, v[0].Raw)
		require.True(t, v[0].Operational())
		require.True(t, v[0].End.Known() || v[0].OpenEnd, raw)
		n++
		event, _, _ := strings.Cut(rest, "|")
		if name := v[0].Event(); name != "" {
			require.Equal(t, event, name, raw)
			named++
		}
	}
	require.Equal(t, 875, n)
	require.Equal(t, 575, named) // those of the sea and the coast, counted apart
}

func TestParseUGC(t *testing.T) {
	for in, want := range map[string]struct {
		zones []string
		purge string
	}{
		// Real codes.
		"AMZ630-651-240215-":     {[]string{"AMZ630", "AMZ651"}, "240215"},
		"ANZ050>052-300330-":     {[]string{"ANZ050", "ANZ051", "ANZ052"}, "300330"},
		"PKZ022-644-663-022015-": {[]string{"PKZ022", "PKZ644", "PKZ663"}, "022015"},
		// Made up after the grammar.
		"FLZ007-009-\nGAZ120>122-AMZ650-151200-": {[]string{"FLZ007", "FLZ009", "GAZ120", "GAZ121", "GAZ122", "AMZ650"}, "151200"},
		"GMZ052>GMZ053-010203-":                  {[]string{"GMZ052", "GMZ053"}, "010203"},
		"FLC086-011-":                            {[]string{"FLC086", "FLC011"}, ""},
	} {
		zones, purge, err := ParseUGC(in)
		require.NoError(t, err, in)
		require.Equal(t, want.zones, zones, in)
		require.Equal(t, want.purge, purge, in)
	}
	for _, in := range []string{"", "-", "630-", "AMZ63-", "AMZ052>050-010203-", "AMZ050>GMZ052-", "AMZ630-240215-651-", "AMZ630 hello", "240215-"} {
		_, _, err := ParseUGC(in)
		require.Error(t, err, in)
	}
}

func TestDayTimeOverTheMonth(t *testing.T) {
	for _, c := range []struct{ in, ref, want string }{
		{"010315", "2025-01-31T20:00", "2025-02-01T03:15"},
		{"312330", "2025-02-01T00:10", "2025-01-31T23:30"},
		{"010000", "2024-12-31T21:00", "2025-01-01T00:00"},
		{"290100", "2024-02-28T21:00", "2024-02-29T01:00"},
		{"202309", "2024-12-20T23:09", "2024-12-20T23:09"},
	} {
		got, ok := dayTime(c.in, utc(t, c.ref)).Get()
		require.True(t, ok)
		require.Equal(t, utc(t, c.want), got)
	}
	for _, in := range []string{"", "1", "012400", "010060", "000000", "330000", "abcdef"} {
		require.False(t, dayTime(in, utc(t, "2025-01-31T20:00")).Known(), in)
	}
	require.False(t, dayTime("010315", time.Time{}).Known())
}
