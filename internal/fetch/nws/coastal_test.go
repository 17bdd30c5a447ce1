package nws

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
)

// wireToAPI turns a product as it goes over the wire into what the data
// service gives.
func wireToAPI(s string) string {
	s = strings.NewReplacer("\x01", "", "\x03", "", "\r", "").Replace(s)
	return strings.TrimLeft(s, "\n")
}

func TestParseCoastalSeattle(t *testing.T) {
	wire := string(obs(t, "text_CWFSEW_2024-12-20_raw_crcrlf.txt"))
	c, err := ParseCoastal(wire, time.Time{})
	require.NoError(t, err)
	require.Empty(t, c.Notes)

	var zones []string
	for _, x := range c.Texts {
		zones = append(zones, x.Zone)
		require.Equal(t, "KSEW", x.Office)
		require.Equal(t, utc(t, "2024-12-20T23:09"), x.Issued, "309 PM PST")
		require.Equal(t, models.Known(utc(t, "2024-12-21T12:15")), x.Expires)
		require.Empty(t, x.StreamEdge)
		require.NotContains(t, x.Body, "$$")
		require.NotContains(t, x.Body, "\r")
	}
	require.Equal(t, []string{"PZZ150", "PZZ153", "PZZ156", "PZZ170", "PZZ173", "PZZ176", "PZZ130", "PZZ131", "PZZ132", "PZZ134", "PZZ133", "PZZ135", "PZZ110"}, zones)
	require.True(t, strings.HasPrefix(c.Synopsis, ".SYNOPSIS FOR THE NORTHERN AND CENTRAL WASHINGTON COASTAL AND\nINLAND WATERS...Another frontal system"))

	first := c.Texts[0]
	require.Equal(t, "Coastal Waters From Cape Flattery To James Island Out 10 Nm", first.Name)
	require.Equal(t, []string{
		"SMALL CRAFT ADVISORY IN EFFECT THROUGH LATE TONIGHT",
		"GALE WARNING IN EFFECT FROM LATE TONIGHT THROUGH SATURDAY AFTERNOON",
	}, first.Headlines)
	require.True(t, strings.HasPrefix(first.Body, "...SMALL CRAFT ADVISORY"), "verbatim from the headlines on")
	require.Contains(t, first.Body, ".TONIGHT...SE wind 15 to 20 kt, becoming E 20 to 25 kt late. Seas\n8 to 11 ft, building to 10 to 12 ft after midnight. Wave Detail:\n")
	require.True(t, strings.HasSuffix(first.Body, "SW 20 ft at 14 seconds. Rain."))

	wrapped := c.Texts[5]
	require.True(t, strings.HasSuffix(wrapped.Name, "60 Nm"), wrapped.Name)

	// The date line of this zone runs on into the first period.
	glued := c.Texts[6]
	require.Equal(t, "West Entrance U.S. Waters Strait Of Juan De Fuca", glued.Name)
	require.True(t, strings.HasPrefix(glued.Body, ".TONIGHT...E wind 10 to 15 kt, rising to 15 to 20 kt after\n"), glued.Body)

	// A bar has no periods.
	bar := c.Texts[12]
	require.Equal(t, "Grays Harbor Bar", bar.Name)
	require.Empty(t, bar.Headlines)
	require.True(t, strings.HasPrefix(bar.Body, "Combined seas 6 to 8 ft. Bar conditions moderate."))

	api, err := ParseCoastal(wireToAPI(wire), time.Time{})
	require.NoError(t, err)
	require.Equal(t, c, api, "the same text with other line ends")
}

func TestParseCoastalAlaska(t *testing.T) {
	c, err := ParseCoastal(string(obs(t, "text_CWF_twoheadline.txt")), time.Time{})
	require.NoError(t, err)
	require.Empty(t, c.Notes)
	require.Len(t, c.Texts, 1)
	x := c.Texts[0]
	require.Equal(t, "PKZ851", x.Zone)
	require.Equal(t, "PAFG", x.Office)
	require.Equal(t, "Southwest of Saint Lawrence Island from 15 to 100 NM", x.Name)
	require.Equal(t, utc(t, "2025-01-03T09:54"), x.Issued, "1254 AM AKST")
	require.Equal(t, models.Known(utc(t, "2025-01-04T03:15")), x.Expires)
	require.Equal(t, []string{
		"HEAVY FREEZING SPRAY WARNING IN EFFECT THROUGH EARLY SATURDAY MORNING",
		"SMALL CRAFT ADVISORY IN EFFECT THROUGH EARLY SATURDAY MORNING",
	}, x.Headlines)
	require.True(t, strings.HasSuffix(x.Body, ".TUE...N winds 30 kt. Seas 10 ft."))
}

// invented is a product of our own making in the offices' form: no such
// office, coast or zone exists.
const invented = `FZUS52 KXXX 312030 AAA
CWFXXX

Coastal Waters Forecast for an Invented Coast
National Weather Service Nowhere XX
330 PM EST /230 PM CST/ Fri Jan 31 2025

XXZ000-010815-
Synopsis for the invented coast out to 60 nm-
330 PM EST Fri Jan 31 2025

.SYNOPSIS...High pressure passes. A weak front follows it on
Sunday.

The approximate distance to the west wall of the Gulf Stream as
of 7 AM Friday...
9 nautical miles east of Somewhere Light.
14 nautical miles east of Nowhere Inlet.

Seas build late.

$$

XXZ050>051-010815-
Invented waters to 20 nm-
Invented waters from 20 to
60 nm-
330 PM EST Fri Jan 31 2025

...SMALL CRAFT SHOULD EXERCISE CAUTION...

.TONIGHT...N wind 10 to 15 kt. Seas 2 to 3 ft.
.SAT...N wind 15 kt. ...Not a headline...

$$

XXZ055-010815-
Invented bay-

.TONIGHT...N wind 10 kt.

$$
`

func TestParseCoastalInvented(t *testing.T) {
	c, err := ParseCoastal(invented, time.Time{})
	require.NoError(t, err)
	require.Len(t, c.Texts, 3)
	for _, x := range c.Texts {
		require.Equal(t, utc(t, "2025-01-31T20:30"), x.Issued)
		require.Equal(t, models.Known(utc(t, "2025-02-01T08:15")), x.Expires, "over the month")
		require.Equal(t, "The approximate distance to the west wall of the Gulf Stream as of 7 AM Friday... "+
			"9 nautical miles east of Somewhere Light. 14 nautical miles east of Nowhere Inlet.", x.StreamEdge)
	}
	require.Equal(t, "Invented waters to 20 nm", c.Texts[0].Name)
	require.Equal(t, "Invented waters from 20 to 60 nm", c.Texts[1].Name)
	require.Equal(t, []string{"SMALL CRAFT SHOULD EXERCISE CAUTION"}, c.Texts[0].Headlines)
	require.Equal(t, "Invented bay", c.Texts[2].Name)
	require.Equal(t, ".TONIGHT...N wind 10 kt.", c.Texts[2].Body)

	// Without any date the heading's day counts, near the reference time.
	bare := "FZUS52 KXXX 312030\nCWFXXX\n\nXXZ050-010815-\nInvented waters-\n\n.TONIGHT...N wind.\n\n$$\n"
	c, err = ParseCoastal(bare, utc(t, "2025-02-01T01:00"))
	require.NoError(t, err)
	require.Equal(t, utc(t, "2025-01-31T20:30"), c.Texts[0].Issued)
	c, err = ParseCoastal(bare, time.Time{})
	require.NoError(t, err)
	require.True(t, c.Texts[0].Issued.IsZero())
	require.False(t, c.Texts[0].Expires.Known())
	require.NotEmpty(t, c.Notes)
}

func TestStreamEdge(t *testing.T) {
	for in, want := range map[string]string{
		"Winds over the Gulf Stream 20 knots.":                                      "",
		"Hazards at the edge of the Gulf Stream are none.":                          "",
		"Seas higher in the Gulf Stream. The edge of town is 3 nm off.":             "",
		"N wind. The edge of the Florida Current lies 12 nm south of Nowhere. Dry.": "The edge of the Florida Current lies 12 nm south of Nowhere.",
	} {
		require.Equal(t, want, StreamEdge(in), in)
	}
}

func TestHeadlines(t *testing.T) {
	for in, want := range map[string][]string{
		"":                                   nil,
		".TONIGHT...x...":                    nil,
		"...A...\n...B C\nD...\n\n.TODAY...": {"A", "B C D"},
		"...NEVER CLOSED\n\n.TODAY...":       {"NEVER CLOSED"},
		"......\n.TODAY...":                  nil,
		"...A... UNTIL NOON...\n":            {"A... UNTIL NOON"},
		"* WHAT...gusts...\n":                nil,
	} {
		require.Equal(t, want, Headlines(in), in)
	}
}

func TestParseCoastalRefuses(t *testing.T) {
	for _, in := range []string{"", "hello", "<html></html>", "FZUS52 KMFL 240137\nCWFMFL\n", "AMZ651-\n", "AMZ651-240215-\n\n$$\n", strings.Repeat("x", longestProduct+1)} {
		_, err := ParseCoastal(in, time.Time{})
		require.Error(t, err)
	}
}

func FuzzCoastal(f *testing.F) {
	f.Add(invented)
	f.Add("\x01\r\r\n607 \r\r\nFZUS56 KSEW 202309\r\r\nCWFSEW\r\r\nPZZ100>102-211215-\r\r\n309 PM PST Fri Dec 20 2024.TONIGHT...x\r\r\n$$\r\r\n\x03")
	ref := time.Date(2024, 12, 20, 0, 0, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, s string) {
		c, err := ParseCoastal(s, ref)
		if err != nil {
			return
		}
		for _, x := range c.Texts {
			require.True(t, IsZone(x.Zone) || strings.HasSuffix(x.Zone, "ALL"), x.Zone)
			require.NotEmpty(t, x.Body)
		}
	})
}
