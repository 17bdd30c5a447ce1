package draw

import (
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

var update = flag.Bool("update", false, "write the figures of testdata anew")

// same compares two drawings: the text to the letter, numbers to a step of the
// paper, since processors differ in the last bit.
func same(t *testing.T, a, b string) {
	t.Helper()
	number := regexp.MustCompile(`-?\d+(\.\d+)?`)
	require.Equal(t, number.ReplaceAllString(a, "#"), number.ReplaceAllString(b, "#"), "run go test ./internal/draw -update")
	x, y := number.FindAllString(a, -1), number.FindAllString(b, -1)
	for i := range x {
		u, _ := strconv.ParseFloat(x[i], 64)
		v, _ := strconv.ParseFloat(y[i], 64)
		require.InDelta(t, u, v, 0.15, "run go test ./internal/draw -update")
	}
}

// figure is any drawing of the page.
type figure interface{ SVG() ([]byte, error) }

// sheet is what a drawing holds, as a reader of the SVG finds it.
type sheet struct {
	w, h    float64
	words   []written
	ids     []string
	title   string
	desc    string
	circles [][3]float64
	paths   []map[string]string
	points  [][2]float64
}

type written struct {
	text string
	box  box
	size float64
}

// read parses a drawing with the standard library's XML reader. Element and
// attribute names are those of SVG 1.1, https://www.w3.org/TR/SVG11/.
func read(t require.TestingT, svg []byte) sheet {
	var s sheet
	var at map[string]string
	var in []string
	whole := start
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	f := func(name string) float64 {
		v, err := strconv.ParseFloat(at[name], 64)
		require.NoError(t, err, "%s of %v", name, at)
		return v
	}
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return s
		}
		require.NoError(t, err)
		switch tok := tok.(type) {
		case xml.StartElement:
			in = append(in, tok.Name.Local)
			at = map[string]string{}
			for _, a := range tok.Attr {
				require.NotContains(t, at, a.Name.Local, "an attribute stands once")
				at[a.Name.Local] = a.Value
			}
			require.NotContains(t, at, "style", "the content policy forbids it")
			require.NotEqual(t, "style", tok.Name.Local)
			require.NotEqual(t, "script", tok.Name.Local)
			if id, ok := at["id"]; ok {
				s.ids = append(s.ids, id)
			}
			if len(in) > 2 && in[1] == "defs" {
				continue
			}
			switch tok.Name.Local {
			case "svg":
				box := strings.Fields(at["viewBox"])
				require.Len(t, box, 4)
				s.w, _ = strconv.ParseFloat(box[2], 64)
				s.h, _ = strconv.ParseFloat(box[3], 64)
				require.Equal(t, "img", at["role"])
				require.Equal(t, "currentColor", at["fill"])
				if v, ok := at["text-anchor"]; ok {
					whole = anchor(v)
				}
			case "circle":
				s.circles = append(s.circles, [3]float64{f("cx"), f("cy"), f("r")})
				s.points = append(s.points, [2]float64{f("cx") - f("r"), f("cy") - f("r")}, [2]float64{f("cx") + f("r"), f("cy") + f("r")})
			case "rect":
				require.GreaterOrEqual(t, f("width"), 0.0)
				require.GreaterOrEqual(t, f("height"), 0.0)
				s.points = append(s.points, [2]float64{f("x"), f("y")}, [2]float64{f("x") + f("width"), f("y") + f("height")})
			case "path":
				s.paths = append(s.paths, at)
				s.points = append(s.points, walk(t, at["d"])...)
			}
		case xml.EndElement:
			in = in[:len(in)-1]
		case xml.CharData:
			switch in := append([]string{""}, in...); in[len(in)-1] {
			case "title":
				s.title = string(tok)
			case "desc":
				s.desc = string(tok)
			case "text":
				a := whole // inherited: SVG 1.1, 10.9.1
				if v, ok := at["text-anchor"]; ok {
					a = anchor(v)
				}
				attributes := ""
				if at["font-weight"] != "" {
					attributes = bold
				}
				b := boxOf(spot{f("x"), f("y"), a}, string(tok), attributes)
				s.words = append(s.words, written{string(tok), b, fontSize})
			}
		}
	}
}

// walk visits the points of a path: the commands M, L, H, V, Q, q, a, l, h, v
// and Z of SVG 1.1, chapter 8.
func walk(t require.TestingT, d string) [][2]float64 {
	var out [][2]float64
	var x, y, x0, y0 float64
	for _, c := range regexp.MustCompile(`[A-Za-z][^A-Za-z]*`).FindAllString(d, -1) {
		var n []float64
		for _, w := range regexp.MustCompile(`-?\d*\.?\d+`).FindAllString(c[1:], -1) {
			v, err := strconv.ParseFloat(w, 64)
			require.NoError(t, err)
			n = append(n, v)
		}
		switch c[0] {
		case 'M':
			x, y = n[0], n[1]
			x0, y0 = x, y
		case 'L':
			x, y = n[0], n[1]
		case 'Q':
			x, y = n[2], n[3]
		case 'H':
			x = n[0]
		case 'V':
			y = n[0]
		case 'h':
			x += n[0]
		case 'v':
			y += n[0]
		case 'l', 'q':
			for i := len(n) % 4; len(n) > 2 && i+3 < len(n); i += 4 {
				x, y = x+n[i+2], y+n[i+3]
			}
			if len(n) == 2 {
				x, y = x+n[0], y+n[1]
			}
		case 'a':
			x, y = x+n[5], y+n[6]
		case 'z', 'Z':
			x, y = x0, y0
		default:
			require.Fail(t, "unknown command", d)
		}
		out = append(out, [2]float64{x, y})
	}
	return out
}

// sound holds what is true of every drawing.
func sound(t require.TestingT, f figure) sheet {
	svg, err := f.SVG()
	require.NoError(t, err)
	again, err := f.SVG()
	require.NoError(t, err)
	require.Equal(t, string(svg), string(again), "the same figure is the same text")
	require.NotContains(t, string(svg), "NaN")
	require.NotContains(t, string(svg), "Inf\"")
	require.NotRegexp(t, `#[0-9a-fA-F]{3}|rgb`, regexp.MustCompile(`url\([^)]*\)|>[^<]*<`).ReplaceAllString(string(svg), ""), "no colour of our own")
	s := read(t, svg)
	require.Contains(t, string(svg), `aria-labelledby="`+s.ids[0]+" "+s.ids[1]+`"`)
	paper := box{-0.1, -0.1, s.w + 0.1, s.h + 0.1}
	for _, p := range s.points {
		require.True(t, box{p[0], p[1], p[0], p[1]}.within(paper), "%v lies off the paper of %v by %v", p, s.w, s.h)
	}
	for i, a := range s.words {
		require.NotEmpty(t, strings.TrimSpace(a.text))
		require.True(t, a.box.within(paper), "%q lies off the paper: %v", a.text, a.box)
		for _, b := range s.words[:i] {
			inner := box{b.box.x0 + 0.1, b.box.y0 + 0.1, b.box.x1 - 0.1, b.box.y1 - 0.1} // numbers are rounded to a tenth
			require.False(t, a.box.meets(inner), "%q meets %q", a.text, b.text)
		}
	}
	return s
}

func (s sheet) text() string {
	var list []string
	for _, w := range s.words {
		list = append(list, w.text)
	}
	return strings.Join(list, "|")
}

// count counts the words that are exactly one text.
func (s sheet) count(text string) int {
	return strings.Count("|"+strings.ReplaceAll(s.text(), "|", "||")+"|", "|"+text+"|")
}

// The figures of an invented day, kept as files in testdata.
// `go test ./internal/draw -update` writes them anew.
func TestFiguresOfThePage(t *testing.T) {
	for name, f := range figuresOfThePage() {
		t.Run(name, func(t *testing.T) {
			sound(t, f)
			svg, err := f.SVG()
			require.NoError(t, err)
			most := 8 << 10
			if strings.HasPrefix(name, "lanes") {
				most = 9 << 10
			}
			require.Less(t, len(svg), most, "a page stays small")
			file := filepath.Join("testdata", name+".svg")
			if *update {
				require.NoError(t, os.MkdirAll("testdata", 0o755))
				require.NoError(t, os.WriteFile(file, svg, 0o644))
				return
			}
			have, err := os.ReadFile(file)
			require.NoError(t, err)
			same(t, string(have), string(svg))
		})
	}
}

func figuresOfThePage() map[string]figure {
	l, d, s, u, c := day(), driftChart(), SpreadSide(spreadOf("side")), spreadOf("top").above(), compare()
	m := map[string]figure{"lanes": l, "drift": d, "spread-side": s, "spread-top": u, "compare": c}
	l.Narrow, d.Narrow, s.Narrow, u.Narrow, c.Narrow = true, true, true, true, true
	m["lanes-narrow"], m["drift-narrow"], m["spread-side-narrow"], m["spread-top-narrow"], m["compare-narrow"] = l, d, s, u, c
	return m
}

func TestNothingToDraw(t *testing.T) {
	for _, f := range []figure{Lanes{Title: "void"}, DriftChart{Title: "void"}, SpreadSide{Title: "void"}, SpreadTop{Title: "void"}, Compare{Title: "void"}} {
		_, err := f.SVG()
		require.ErrorIs(t, err, ErrNothing)
		require.ErrorContains(t, err, "void")
	}
}

func TestTwoFiguresOnOnePageShareNoIDs(t *testing.T) {
	a, b := day(), day()
	a.ID, b.ID = "a", "b"
	for _, id := range sound(t, a).ids {
		require.NotContains(t, sound(t, b).ids, id)
	}
	a.ID, b.ID, b.Title = `"><x>`, "", "another"
	for _, id := range sound(t, a).ids {
		require.Regexp(t, `^[A-Za-z][A-Za-z0-9-]*$`, id)
		require.NotContains(t, sound(t, b).ids, id)
	}
}

func TestCleanWords(t *testing.T) {
	for in, want := range map[string]string{
		"plain":                     "plain",
		" a\x00b\x1b\tc\u0085 ":     "ab c",
		"turn\u202eed\u2066 \u200f": "turned",
		"bro\xffken":                "broken",
		"\ufffe\uffff":              "",
		"año <&> \"'":               "año <&> \"'",
	} {
		require.Equal(t, want, clean(in))
	}
}

func TestFitAndWrap(t *testing.T) {
	require.Equal(t, "short", fit("short", 100))
	cut := fit("a very long word indeed", 60)
	require.True(t, strings.HasSuffix(cut, "…"))
	require.LessOrEqual(t, textWidth(cut), 60.0)
	require.Empty(t, fit("wide", 3))
	require.Equal(t, []string{"one two", "three"}, wrap("one two three", textWidth("one two "), 3))
	lines := wrap(strings.Repeat("word ", 50), 80, 2)
	require.Len(t, lines, 2)
	require.True(t, strings.HasSuffix(lines[1], "…"))
}

// hostile words want to leave their element, hide, or run over the paper.
func hostile() *rapid.Generator[string] {
	return rapid.OneOf(rapid.SampledFrom([]string{
		"", " ", "good", "no", "Small Craft Exercise Caution, 12:00 to Sat 15:00", `"/><script>alert(1)</script>`,
		"]]>&amp;&#0;", "\x00\x08\x1b[31m", "\u202etxet", "\xff\xfe", "\ufffe", strings.Repeat("W", 300), strings.Repeat("long words ", 40),
		"日本語の天気予報", "🪁🪁🪁", "a\nb\tc", "marejada del norte, visibilidad reducida",
	}), rapid.String())
}

func instants() *rapid.Generator[time.Time] {
	return rapid.Custom(func(t *rapid.T) time.Time {
		return time.Date(2027, 1, 19, 0, 0, 0, 0, time.UTC).Add(time.Duration(rapid.IntRange(-600, 3000).Draw(t, "minute")) * time.Minute)
	})
}

func lengths(most float64) *rapid.Generator[units.Length] {
	return rapid.Map(rapid.OneOf(rapid.Float64Range(-most/20, most), rapid.Float64()), func(v float64) units.Length { return units.Length(v) })
}

func opt[T any](g *rapid.Generator[T]) *rapid.Generator[models.Opt[T]] {
	return rapid.Custom(func(t *rapid.T) models.Opt[T] {
		if rapid.IntRange(0, 3).Draw(t, "unknown") == 0 {
			return models.Unknown[T]()
		}
		return models.Known(g.Draw(t, "value"))
	})
}

func zones() *rapid.Generator[*time.Location] {
	return rapid.SampledFrom([]*time.Location{nil, time.UTC, time.FixedZone("", -5*3600), time.FixedZone("", 5*3600+1800)})
}
