package gridded

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestParseInventory(t *testing.T) {
	entries, err := ParseInventory(realFile(t, waveFile+".idx"))
	require.NoError(t, err)
	body := realFile(t, waveFile)
	require.Len(t, entries, 19)
	for i, e := range entries {
		require.Equal(t, "GRIB", string(body[e.Start:e.Start+4]))
		if i+1 < len(entries) {
			require.Equal(t, "7777", string(body[e.End-3:e.End+1]))
		} else {
			require.Equal(t, int64(-1), e.End, "the last goes to the end of the file")
		}
	}
	require.Equal(t, Entry{Start: 325418, End: 354937, Run: newest(), Name: "SWELL", Level: "1 in sequence", Window: "1 hour fcst"}, entries[8])
}

func TestSubmessagesShareTheirStart(t *testing.T) {
	entries, err := ParseInventory([]byte("1:0:d=2026110506:PRMSL:mean sea level:anl:\n2.1:100:d=2026110506:UGRD:10 m above ground:anl:\r\n2.2:100:d=2026110506:VGRD:10 m above ground:anl:\n3:250:d=2026110506:WIND:10 m above ground:1 hour fcst:ens std dev\n"))
	require.NoError(t, err)
	var ends []int64
	for _, e := range entries {
		ends = append(ends, e.End)
	}
	require.Equal(t, []int64{99, 249, 249, -1}, ends)
	require.Equal(t, "ens std dev", entries[3].Also)
}

func TestBadInventories(t *testing.T) {
	for text, want := range map[string]string{
		"1:0:d=2026110506:PRMSL":                                          `line 1: "1:0:d=2026110506:PRMSL" has 4 parts of at least 6`,
		"1:x:d=2026110506:A:B:anl:":                                       `line 1: "x" is no byte offset`,
		"1:-4:d=2026110506:A:B:anl:":                                      `line 1: "-4" is no byte offset`,
		"\n1:0:d=20261105:A:B:anl:":                                       `line 2: "d=20261105" is no run`,
		"1:9:d=2026110506:A:B:anl:\n2:0:d=2026110506:A:B:anl:":            `line 2: offset 0 is before the line above it`,
		"<html><body>busy</body></html>":                                  "has 1 parts",
		"1:99999999999999999999999999999:d=2026110506:A:B:1 hour fcst:\n": "no byte offset",
	} {
		_, err := ParseInventory([]byte(text))
		require.ErrorContains(t, err, want)
	}
}

func TestParseIndex(t *testing.T) {
	entries, err := ParseIndex([]byte(`{"domain": "g", "date": "20260628", "time": "0600", "expver": "0001", "class": "od", "type": "fc", "stream": "wave", "step": "3", "levtype": "sfc", "param": "swh", "_offset": 832022, "_length": 785277}
{"date": "20260628", "time": "0600", "type": "pf", "number": "1", "step": "3", "levtype": "sfc", "param": "swh", "_offset": 0, "_length": 832022}
`))
	require.NoError(t, err)
	require.Equal(t, []Entry{
		{Start: 832022, End: 1617298, Run: time.Date(2026, 6, 28, 6, 0, 0, 0, time.UTC), Name: "swh", Level: "sfc", Window: "3 hour fcst"},
		{Start: 0, End: 832021, Run: time.Date(2026, 6, 28, 6, 0, 0, 0, time.UTC), Name: "swh", Level: "sfc", Window: "3 hour fcst", Also: `"1"`},
	}, entries)
	for text, want := range map[string]string{
		"\nnonsense": "index line 2: ",
		`{"date":"20260628","time":"0600","param":"a","_length":5}`:                               "line 1: no message can stand where it says",
		`{"date":"20260628","time":"0600","param":"a","_offset":-1,"_length":5}`:                  "no message can stand",
		`{"date":"20260628","time":"0600","param":"a","_offset":0,"_length":0}`:                   "no message can stand",
		`{"date":"20260628","time":"0600","param":"a","_offset":9,"_length":9223372036854775807}`: "no message can stand",
		`{"date":"20260628","param":"a","_offset":0,"_length":5}`:                                 "are no run",
		`{"date":"20260628","time":"0600","_offset":0,"_length":5}`:                               "names no param",
		`{"date":20260628,"time":"0600","param":"a","_offset":0,"_length":5}`:                     "line 1",
	} {
		_, err := ParseIndex([]byte(text))
		require.ErrorContains(t, err, want)
	}
}

// The forms that inventories are seen to write.
func TestParseWindow(t *testing.T) {
	h := func(n int) time.Duration { return time.Duration(n) * time.Hour }
	for text, want := range map[string]window{
		"anl":                   {},
		"5 hour fcst":           {h(5), h(5), ""},
		"495 min fcst":          {495 * time.Minute, 495 * time.Minute, ""},
		"2 day fcst":            {h(48), h(48), ""},
		"4-5 hour acc fcst":     {h(4), h(5), "acc"},
		"114-120 hour ave fcst": {h(114), h(120), "ave"},
		"0-1 day acc fcst":      {0, h(24), "acc"},
		"3-4 hour max fcst":     {h(3), h(4), "max"},
	} {
		got, ok := parseWindow(text)
		require.True(t, ok, text)
		require.Equal(t, want, got, text)
	}
	for _, text := range []string{"", "fcst", "5 hour", "5-4 hour acc fcst", "4-5 hour fcst", "5 hour acc fcst", "x hour fcst", "-5 hour fcst", "5 week fcst", "999999999 hour fcst"} {
		_, ok := parseWindow(text)
		require.False(t, ok, text)
	}
}

func TestChoose(t *testing.T) {
	run := time.Date(2026, 11, 5, 6, 0, 0, 0, time.UTC)
	text := `1:0:d=2026110506:TCDC:entire atmosphere:0-6 hour ave fcst:
2:100:d=2026110506:TCDC:entire atmosphere:6 hour fcst:
3:200:d=2026110506:TCDC:entire atmosphere:6 hour fcst:
4:300:d=2026110506:WIND:10 m above ground:6 hour fcst:ens std dev
5:400:d=2026110506:WIND:10 m above ground:5-6 hour max fcst:
6:500:d=2026110506:WIND:10 m above ground:6 hour fcst:
7:600:d=2026110506:GUST:surface:6 hour fcst:50% level
8:700:d=2026110506:TSTM:surface:0-6 hour acc fcst:prob >0
9:800:d=2026110506:TSTM:surface:3-6 hour acc fcst:prob >0
10:900:d=2026110506:TSTM:surface:0-12 hour acc fcst:prob >0
11:1000:d=2026110506:VIS:surface:5 hour fcst:
12:1100:d=2026110500:VIS:surface:6 hour fcst:
`
	entries, err := ParseInventory([]byte(text))
	require.NoError(t, err)
	fields := []Field{
		{As: "thunder", Name: "TSTM", Level: "surface", Kind: Chance},
		{As: "cloud", Name: "TCDC", Level: "entire atmosphere"},
		{As: "wind", Name: "WIND", Level: "10 m above ground"},
		{As: "gust", Name: "GUST", Level: "surface"},
		{As: "top", Name: "WIND", Level: "10 m above ground", Kind: Maximum},
		{As: "visibility", Name: "VIS", Level: "surface"},
	}
	chosen, lacking := choose(entries, fields, run, 6)
	got := map[string]int64{}
	for _, c := range chosen {
		got[c.field.As] = c.Start
	}
	require.Equal(t, map[string]int64{
		"cloud":   100, // the instant, not the mean, and the first of two
		"wind":    500, // no spread, no maximum
		"top":     400,
		"thunder": 800, // the shortest time that ends at the lead
	}, got)
	var without []string
	for _, f := range lacking {
		without = append(without, f.As)
	}
	require.Equal(t, []string{"gust", "visibility"}, without, "a percentile, another hour and another run are no substitute")
}

func TestBlocks(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var list []choice
		at := int64(0)
		for i := range rapid.IntRange(1, 30).Draw(t, "entries") {
			if i == 0 || rapid.IntRange(0, 3).Draw(t, "submessage") > 0 {
				at += rapid.Int64Range(0, 3*mergeGap).Draw(t, "gap")
			} else if k := len(list) - 1; list[k].End >= 0 {
				same := list[k]
				list = append(list, same)
				continue
			}
			e := Entry{Start: at, End: at + rapid.Int64Range(15, 1<<20).Draw(t, "length")}
			at = e.End + 1
			list = append(list, choice{Entry: e})
		}
		open := rapid.Bool().Draw(t, "the last is open")
		if k := len(list) - 1; open && (k == 0 || list[k-1].Start != list[k].Start) {
			list[k].End = -1
		}
		bs := blocks(list)
		var all []choice
		for i, b := range bs {
			all = append(all, b.entries...)
			require.Equal(t, b.start, b.entries[0].Start)
			holds := int64(0)
			for k, e := range b.entries {
				require.GreaterOrEqual(t, e.Start, b.start)
				if e.End < 0 {
					require.Equal(t, int64(-1), b.end)
				} else if b.end >= 0 {
					require.LessOrEqual(t, e.End, b.end)
				}
				if k > 0 {
					require.Less(t, e.Start-b.entries[k-1].End-1, int64(mergeGap), "no long gap inside a range")
				}
				holds = max(holds, e.End)
			}
			if b.end >= 0 {
				require.Equal(t, holds, b.end, "not a byte behind the last message")
			} else {
				require.Equal(t, len(bs)-1, i)
			}
			if i > 0 {
				require.GreaterOrEqual(t, b.start-bs[i-1].end-1, int64(mergeGap), "neighbours are merged")
			}
		}
		require.Equal(t, list, all, "every entry in exactly one range, in order")
	})
}

// A message whose claimed end lies beyond its neighbour's does not shorten the
// range.
func TestBlocksOverlap(t *testing.T) {
	bs := blocks([]choice{{Entry: Entry{Start: 0, End: 500}}, {Entry: Entry{Start: 100, End: 200}}})
	require.Len(t, bs, 1)
	require.Equal(t, int64(500), bs[0].end)
}

func TestParseListing(t *testing.T) {
	page := `<!DOCTYPE HTML PUBLIC "-//W3C//DTD HTML 3.2 Final//EN">
<html><head><title>Index of /pub/data</title></head><body><h1>Index of /pub/data</h1>
<pre><a href="?C=N;O=D">Name</a> <a href="/pub/data/">Parent Directory</a>
<a href="00/">00/</a>  05-Nov-2026 03:10  -
<A HREF='12/'>12/</A>
<a class="x" href="18/">18/</a> <a href="12/">again</a>
<a href="../">up</a> <a href="https://elsewhere.invalid/06/">06/</a> <a href="06/CG1/">deep</a> <a href="24/">24/</a> <a href="7/">7/</a>
<a href="06">a file</a> <a href="readme.txt">readme.txt</a> <a href="%2e%2e/">x</a> <a href="-5/">y</a></pre></body></html>`
	names, err := ParseListing([]byte(page))
	require.NoError(t, err)
	require.Equal(t, []string{"00/", "12/", "18/", "24/", "7/", "06", "readme.txt", "-5/"}, names)
	var hours []string
	for _, s := range startsIn(names, time.Date(2026, 11, 5, 0, 0, 0, 0, time.UTC)) {
		hours = append(hours, s.Format("2006-01-02T15:04Z"))
	}
	require.Equal(t, []string{"2026-11-05T00:00Z", "2026-11-05T12:00Z", "2026-11-05T18:00Z"}, hours)
	_, err = ParseListing([]byte("<html><body>You have been blocked</body></html>"))
	require.ErrorContains(t, err, "no links")
	_, err = ParseListing([]byte(`{"a":1}`))
	require.ErrorContains(t, err, "no web page")
}

func FuzzInventory(f *testing.F) {
	f.Add([]byte("1:0:d=2026110506:UGRD:surface:1 hour fcst:\n2.1:9:d=2026110506:VGRD:surface:0-1 day acc fcst:prob >1\n"))
	f.Add([]byte("1:9223372036854775807:d=2026110506:A:B:anl:\n2:9223372036854775807:d=2026110506:A:B:anl:"))
	f.Fuzz(func(t *testing.T, b []byte) {
		entries, err := ParseInventory(b)
		if err != nil {
			return
		}
		checkEntries(t, entries)
		for i := 1; i < len(entries); i++ {
			require.GreaterOrEqual(t, entries[i].Start, entries[i-1].Start)
		}
	})
}

func FuzzIndex(f *testing.F) {
	f.Add([]byte(`{"date": "20260628", "time": "0600", "step": "3", "levtype": "sfc", "param": "swh", "_offset": 832022, "_length": 785277}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		entries, err := ParseIndex(b)
		if err == nil {
			checkEntries(t, entries)
		}
	})
}

func checkEntries(t *testing.T, entries []Entry) {
	var all []choice
	for _, e := range entries {
		require.GreaterOrEqual(t, e.Start, int64(0))
		require.True(t, e.End == -1 || e.End >= e.Start, fmt.Sprint(e))
		parseWindow(e.Window)
		all = append(all, choice{Entry: e})
	}
	sortByStart(all)
	n := 0
	for _, b := range blocks(all) {
		require.True(t, b.end == -1 || b.end >= b.start)
		n += len(b.entries)
	}
	require.Equal(t, len(entries), n)
}

func FuzzListing(f *testing.F) {
	f.Add([]byte(`<a href="00/">00/</a><a href='../'>up</a>`))
	f.Fuzz(func(t *testing.T, b []byte) {
		names, err := ParseListing(b)
		if err != nil {
			return
		}
		for _, n := range names {
			require.Regexp(t, `^[A-Za-z0-9_-][A-Za-z0-9._-]*/?$`, n, "nothing that leads out of the folder")
		}
		for _, s := range startsIn(names, newest()) {
			require.Equal(t, newest().YearDay(), s.YearDay())
		}
	})
}
