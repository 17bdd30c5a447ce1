package nws

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
)

// productMessages are the messages of a text product, as the alerts made from
// it would carry them.
func productMessages(t testing.TB, text string) (issued time.Time, out []message) {
	t.Helper()
	p, err := ParseProduct(text, time.Time{})
	require.NoError(t, err)
	require.Empty(t, p.Notes)
	issued, ok := p.Issued.Get()
	require.True(t, ok)
	for _, seg := range p.Segments {
		for _, zone := range seg.Zones {
			for _, v := range seg.VTEC {
				m := message{id: fmt.Sprint(p.ID, issued, zone), sent: issued, zone: zone, relevant: true,
					warning: models.Warning{Event: v.Event(), Zone: zone, Issued: issued, Onset: issued}}
				out = append(out, m.about(v, seg.Purge, false))
			}
		}
	}
	return issued, out
}

func inZone(ws []models.Warning, zone string) []models.Warning {
	var out []models.Warning
	for _, w := range ws {
		if w.Zone == zone {
			out = append(out, w)
		}
	}
	return out
}

// galeLife is the whole life of a gale off Maine in the winter of 2015: 23
// real marine weather messages.
func galeLife(t testing.TB) []string {
	t.Helper()
	parts := strings.Split(string(obs(t, "text_MWWCAR_gale_lifecycle_0-22.txt")), "@@@@ ")
	require.Len(t, parts, 24)
	var out []string
	for _, p := range parts[1:] {
		_, text, _ := strings.Cut(p, "\n")
		out = append(out, text)
	}
	return out
}

// TestGaleLifecycle follows it message by message; what holds after each was
// read off the texts by eye.
func TestGaleLifecycle(t *testing.T) {
	watch := "GL.A 0004 31T06:00 to 01T00:00"
	gale := "GL.W 0008 31T06:00 to 01T09:00"
	spray := "UP.Y 0007 31T15:00 to 01T17:00"
	watch2 := "GL.A 0005 02T18:00 to 03T12:00"
	spray2, gale2 := "UP.Y 0008 01T19:49 to 03T18:00", "GL.W 0009 02T18:00 to 03T14:00"
	heavy := "UP.W 0001 03T03:00 to 03T13:00"
	want := []struct {
		issued string
		events []string
	}{
		0:  {"2015-01-29T19:16", []string{watch}},
		1:  {"2015-01-30T02:13", []string{watch}},
		2:  {"2015-01-30T05:26", []string{watch}},
		3:  {"2015-01-30T07:21", []string{gale}}, // the watch is upgraded
		4:  {"2015-01-30T11:17", []string{gale}},
		5:  {"2015-01-30T14:57", []string{gale}},
		6:  {"2015-01-30T18:00", []string{gale}},
		7:  {"2015-01-30T19:53", []string{gale}},
		8:  {"2015-01-31T02:42", []string{gale}},
		9:  {"2015-01-31T08:46", []string{gale, spray}}, // under way: the begin known before
		10: {"2015-01-31T20:16", []string{gale, spray}},
		11: {"2015-02-01T08:51", []string{gale, spray, watch2}}, // EXP nine minutes before the end
		12: {"2015-02-01T09:32", []string{spray, watch2}},
		13: {"2015-02-01T19:49", []string{spray2, gale2}},
		14: {"2015-02-02T03:35", []string{spray2, gale2}},
		15: {"2015-02-02T09:01", []string{spray2, gale2}},
		16: {"2015-02-02T20:09", []string{gale2, heavy}}, // the advisory upgraded
		17: {"2015-02-03T03:05", []string{gale2, heavy}},
		18: {"2015-02-03T08:02", []string{gale2, "UP.W 0001 03T03:00 to 03T12:00"}}, // "extended" to an earlier end
		19: {"2015-02-03T11:01", []string{gale2, "UP.Y 0009 03T11:01 to 03T17:00"}},
		20: {"2015-02-03T13:33", []string{gale2, "UP.Y 0009 03T11:01 to 03T17:00"}}, // EXP, until 14:00
		21: {"2015-02-03T14:00", []string{"UP.Y 0009 03T11:01 to 03T17:00", "SC.Y 0188 03T14:00 to 03T17:00"}},
		22: {"2015-02-03T16:37", []string{"UP.Y 0009 03T11:01 to 03T17:00", "SC.Y 0188 03T14:00 to 03T17:00"}},
	}
	var l ledger
	for i, text := range galeLife(t) {
		issued, messages := productMessages(t, text)
		require.Equal(t, utc(t, want[i].issued), issued, "message %d", i)
		l.add(messages, issued)
		ws := warningsOf(l.current(issued))
		for _, zone := range []string{"ANZ050", "ANZ051", "ANZ052"} {
			require.Equal(t, want[i].events, briefs(inZone(ws, zone)), "after message %d in %s", i, zone)
		}
	}
	require.Empty(t, l.current(utc(t, "2015-02-03T17:00")))
}

// TestGaleLifecycleAnyOrder: the end does not depend on the order in which
// the messages come, one by one or together.
func TestGaleLifecycleAnyOrder(t *testing.T) {
	var each [][]message
	for _, text := range galeLife(t) {
		_, messages := productMessages(t, text)
		each = append(each, messages)
	}
	at := utc(t, "2015-02-03T16:37")
	rapid.Check(t, func(t *rapid.T) {
		var l ledger
		var together []message
		for _, messages := range rapid.Permutation(each).Draw(t, "order") {
			if rapid.Bool().Draw(t, "wait") {
				together = append(together, messages...)
				continue
			}
			l.add(append(together, messages...), at)
			together = nil
		}
		l.add(together, at)
		ws := warningsOf(l.current(at))
		var got []string
		for _, w := range inZone(ws, "ANZ051") {
			got = append(got, w.VTEC[7:20]+" to "+w.Ends.Or(time.Time{}).Format("15:04"))
		}
		require.ElementsMatch(t, []string{"KCAR.UP.Y.000 to 17:00", "KCAR.SC.Y.018 to 17:00"}, got)
	})
}

// TestMarineWeatherMessageJuneau: several codes in one segment, one event cut
// short for some zones, another cancelled and followed by the next. Read off
// the real text of 2 March 2026 by eye.
func TestMarineWeatherMessageJuneau(t *testing.T) {
	issued, messages := productMessages(t, string(obs(t, "text_MWWAJK.txt")))
	require.Equal(t, utc(t, "2026-03-02T12:05"), issued)
	var l ledger
	l.add(messages, issued)
	ws := warningsOf(l.current(issued))
	for zone, want := range map[string][]string{
		"PKZ032": {"SC.Y 0081 02T15:00 to 03T15:00"},
		"PKZ011": {},
		"PKZ012": {"GL.W 0050 02T12:05 to 03T15:00", "UP.W 0006 02T12:05 to 02T21:00", "UP.W 0007 03T06:00 to 03T15:00"},
		"PKZ022": {"SC.Y 0080 02T12:05 to 03T09:00", "GL.W 0051 03T09:00 to 03T15:00"},
		"PKZ644": {"SC.Y 0080 02T12:05 to 03T09:00", "GL.W 0051 03T09:00 to 03T15:00"},
		"PKZ643": {"SC.Y 0080 02T12:05 to 03T06:00", "GL.W 0051 03T06:00 to 03T15:00"},
		"PKZ662": {"SC.Y 0080 02T12:05 to 02T15:00", "SC.Y 0082 03T06:00 to 03T15:00"},
		"PKZ651": {"SC.Y 0079 02T12:05 to 03T15:00"},
	} {
		require.Equal(t, want, briefs(inZone(ws, zone)), zone)
	}
}

// TestSpecialMarineWarningTexts: a warning and a follow-up that cancels it for
// one zone and keeps it for the next.
func TestSpecialMarineWarningTexts(t *testing.T) {
	issued, messages := productMessages(t, string(obs(t, "text_SMWMFL.txt")))
	require.Equal(t, utc(t, "2017-03-24T01:37"), issued)
	var l ledger
	l.add(messages, issued)
	ws := warningsOf(l.current(issued))
	require.Equal(t, []string{"MA.W 0059 24T01:37 to 24T02:15"}, briefs(inZone(ws, "AMZ630")))
	require.Equal(t, []string{"MA.W 0059 24T01:37 to 24T02:15"}, briefs(inZone(ws, "AMZ651")))

	issued, messages = productMessages(t, string(obs(t, "text_MWSKEY.txt")))
	require.Equal(t, utc(t, "2016-06-19T22:12"), issued)
	l = ledger{}
	l.add(messages, issued)
	ws = warningsOf(l.current(issued))
	require.Equal(t, []string{"MA.W 0115 19T22:12 to 19T22:30"}, briefs(ws))
	require.Equal(t, "GMZ053", ws[0].Zone)
}
