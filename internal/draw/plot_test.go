package draw

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func simple() Plot {
	return Plot{
		Title: "Rise & fall", Description: "Two lines that cross.",
		X: Axis{Label: "hours"}, Y: Axis{Label: "feet"},
		Lines: []Line{
			{Name: "up <fast>", Points: []Point{{0, 0}, {10, 10}}},
			{Name: "down", Points: []Point{{0, 10}, {10, 0}}},
		},
		Marks: []Mark{{Point{5, 5}}},
	}
}

// parse reads the drawing with the standard library's XML reader and returns
// the elements' names and all text.
func parse(t require.TestingT, svg []byte) (names map[string]int, text string) {
	names = map[string]int{}
	var b strings.Builder
	d := xml.NewDecoder(strings.NewReader(string(svg)))
	for {
		tok, err := d.Token()
		if errors.Is(err, io.EOF) {
			return names, b.String()
		}
		require.NoError(t, err)
		switch tok := tok.(type) {
		case xml.StartElement:
			names[tok.Name.Local]++
		case xml.CharData:
			b.Write(tok)
		}
	}
}

func TestPlotIsWellFormedAndCanBeReadOut(t *testing.T) {
	svg, err := simple().SVG()
	require.NoError(t, err)
	names, text := parse(t, svg)
	require.Equal(t, 1, names["title"])
	require.Equal(t, 1, names["desc"])
	require.Equal(t, 1, names["circle"])
	for _, want := range []string{"Rise & fall", "Two lines that cross.", "up <fast>", "down", "hours", "feet"} {
		require.Contains(t, text, want)
	}
	s := string(svg)
	require.Contains(t, s, `role="img"`)
	require.Contains(t, s, "prefers-color-scheme:dark")
	require.NotContains(t, s, "href", "a drawing asks nobody for anything")
	require.Contains(t, s, `stroke-dasharray="none"`)
	require.Contains(t, s, `stroke-dasharray="7 4"`, "lines differ by their strokes")
}

// By hand: 0 to 10 on 464 by 284 units of paper.
func TestPlotPutsPointsWhereTheyBelong(t *testing.T) {
	svg, err := simple().SVG()
	require.NoError(t, err)
	require.Contains(t, string(svg), `d="M58 328L522 44"`)
	require.Contains(t, string(svg), `d="M58 44L522 328"`)
	require.Contains(t, string(svg), `cx="290" cy="186"`)
	// Ticks stand under and beside the axes, with the value they stand for.
	require.Contains(t, string(svg), `<text class="c" x="150.8" y="345">2</text>`)
	require.Contains(t, string(svg), `<text class="e" x="52" y="275.2">2</text>`)
	require.Contains(t, string(svg), `<path class="a" d="M58 44V328H522"/>`)
}

func TestPlotOfNothing(t *testing.T) {
	_, err := Plot{Title: "void"}.SVG()
	require.ErrorIs(t, err, ErrNothing)
	require.Contains(t, err.Error(), "void")
	_, err = Plot{Lines: []Line{{Points: []Point{{math.NaN(), 1}, {1, math.Inf(1)}}}}}.SVG()
	require.ErrorIs(t, err, ErrNothing)
}

func TestPlotLiftsThePen(t *testing.T) {
	p := Plot{X: Axis{Max: 4}, Y: Axis{Max: 4}, Lines: []Line{{Points: []Point{{0, 0}, {1, math.NaN()}, {2, 2}, {3, 9}, {4, 4}}}}}
	svg, err := p.SVG()
	require.NoError(t, err)
	_, d, _ := strings.Cut(string(svg), `class="l"`)
	d, _, _ = strings.Cut(d, "/>")
	require.Equal(t, 3, strings.Count(d, "M"))
	require.NotContains(t, d, "L")
}

func TestTicksAreRound(t *testing.T) {
	for _, tt := range []struct{ d, want float64 }{{0.9, 1}, {1, 1}, {1.1, 2}, {2.1, 5}, {6, 10}, {0.013, 0.02}} {
		require.InDelta(t, tt.want, tick(tt.d), 1e-12)
	}
	s := Axis{}.span(0.03, 0.97)
	require.Equal(t, span{0, 1, 0.2}, s)
	require.Equal(t, "0.2", s.say(0.2))
	require.Equal(t, "0.0", s.say(-1e-17))
	require.Len(t, s.ticks(), 6)
	flat := Axis{}.span(5, 5)
	require.Less(t, flat.min, 5.0)
	require.Greater(t, flat.max, 5.0)
}

func TestSquareKeepsTheShape(t *testing.T) {
	p := simple()
	p.Square = true
	x, y, err := p.ranges()
	require.NoError(t, err)
	f := frame{x: x, y: y, paper: plotPaper()}
	require.InDelta(t, f.px(1)-f.px(0), f.py(0)-f.py(1), 1e-9)
}

// Whatever is drawn stays on the paper, is well-formed, and is always the same.
func TestPlotStaysOnThePaper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		point := rapid.Custom(func(t *rapid.T) Point {
			return Point{rapid.Float64Range(-1e6, 1e6).Draw(t, "x"), rapid.Float64Range(-1e6, 1e6).Draw(t, "y")}
		})
		p := Plot{
			Title: rapid.StringMatching(`[ -~]{0,20}`).Draw(t, "title"),
			Lines: rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Line {
				return Line{rapid.StringMatching(`[a-z<&]{0,8}`).Draw(t, "name"), rapid.SliceOfN(point, 1, 20).Draw(t, "points")}
			}), 1, 5).Draw(t, "lines"),
			Square: rapid.Bool().Draw(t, "square"),
		}
		svg, err := p.SVG()
		require.NoError(t, err)
		parse(t, svg)
		x, y, err := p.ranges()
		require.NoError(t, err)
		f := frame{x: x, y: y, paper: plotPaper()}
		for _, l := range p.Lines {
			for _, q := range l.Points {
				require.GreaterOrEqual(t, f.px(q.X), left-1e-6)
				require.LessOrEqual(t, f.px(q.X), width-right+1e-6)
				require.GreaterOrEqual(t, f.py(q.Y), top-1e-6)
				require.LessOrEqual(t, f.py(q.Y), height-bottom+1e-6)
			}
		}
		again, err := p.SVG()
		require.NoError(t, err)
		require.Equal(t, svg, again)
	})
}
