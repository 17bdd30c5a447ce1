package draw

import (
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
)

// local is an instant of the invented day on a clock five hours behind UTC.
func local(hour, minute int) time.Time {
	return time.Date(2027, 1, 19, hour, minute, 0, 0, time.FixedZone("", -5*3600))
}

// levels spells a lane as one letter an hour.
func levels(from int, heights, closed string, words [4]string) []Level {
	var out []Level
	for i, h := range heights {
		out = append(out, Level{local(from+i, 0), int(h - '0'), words[h-'0'], closed[i] == 'x'})
	}
	return out
}

// day is an invented day of 17 hours.
func day() Lanes {
	grades, rides := [4]string{"no", "poor", "fair", "good"}, [4]string{"no", "rough", "ok", "easy"}
	shut := "...........xxxxxx"
	return Lanes{
		ID: "day", Title: "Tuesday 19 January", Description: "Kite good until 13:00, then closed.",
		Zone: local(0, 0).Location(), From: local(4, 0), To: local(21, 0),
		Lanes: []Lane{
			{"kite", levels(4, "33333333221000000", shut, grades)},
			{"sight", levels(4, "00001223332210000", shut, grades)},
			{"ride", levels(4, "33333322222111100", shut, rides)},
		},
		Bars: []LaneBar{{local(15, 0), local(31, 0), "Small Craft Exercise Caution, 15:00 to Wed 07:00"}},
		Turns: []Turn{
			{local(5, 41), TurnHigh, "high 3 ft"}, {local(12, 7), TurnLow, "low 0.1 ft"}, {local(18, 16), TurnHigh, "high 2.7 ft"},
			{local(6, 3), TurnSlack, "slack"}, {local(9, 11), TurnEbb, "ebb 2.2 kn"}, {local(12, 17), TurnSlack, "slack"},
			{local(15, 25), TurnFlood, "flood 2.2 kn"}, {local(18, 31), TurnSlack, "slack"},
		},
		Sun: models.SunTimes{
			CivilDawn: models.Known(local(6, 44)), Rise: models.Known(local(7, 9)),
			Set: models.Known(local(17, 50)), CivilDusk: models.Known(local(18, 15)),
		},
		Tactic: []Stretch{
			{local(6, 30), local(7, 0), "run out", nil}, {local(7, 0), local(10, 0), "kite", []int{0}},
			{local(10, 0), local(13, 0), "sight cast", []int{1}}, {local(13, 0), local(13, 30), "run home", nil},
		},
		Now: models.Known(local(9, 50)),
		Labels: LaneLabels{
			FirstLight: "first light", Sunrise: "sunrise", Sunset: "sunset", LastLight: "last light",
			Plan: "plan", Leave: "leave", Back: "back inside", Closed: "closed", Now: "now",
			Tide: "tide", Stream: "inlet", Warnings: "official",
		},
	}
}

func TestLanesSayTheDay(t *testing.T) {
	l := day()
	for _, narrow := range []bool{false, true} {
		l.Narrow = narrow
		s := sound(t, l)
		for _, want := range []string{
			"kite", "sight", "ride", "good", "fair", "poor", "easy", "ok", "rough", "no", "closed", "plan", "official",
			"leave 06:30", "back inside 13:30", "sight cast", "now 09:50", "sunrise 07:09", "sunset 17:50",
			"05:41", "12:07", "09:11", "high 3 ft", "slack", "tide", "inlet",
		} {
			require.Contains(t, s.text(), want, "narrow: %v", narrow)
		}
		require.Equal(t, 1, s.count("rough"), "a word is told once for hours alike, closed or open")
		require.Equal(t, 1, s.count("closed"))
		all := strings.ReplaceAll(s.text(), "|", " ")
		require.Contains(t, all, "Small Craft Exercise Caution, 15:00 to Wed 07:00")
		require.Equal(t, "Tuesday 19 January", s.title)
		require.Equal(t, "Kite good until 13:00, then closed.", s.desc)
	}
	require.Equal(t, 360.0, sound(t, l).w)
	require.GreaterOrEqual(t, fontSize, 11.0)
}

// By hand: 04:00 to 21:00 on 84 to 936; 07:09 is 3.15 of 17 hours.
func TestLanesShareOneTimeAxis(t *testing.T) {
	d := &lanes{Lanes: day(), left: 84, right: 936}
	require.InDelta(t, 84+852*3.15/17, d.x(local(7, 9)), 1e-9)
	require.InDelta(t, 84, d.x(local(1, 0)), 0)
	require.InDelta(t, 936, d.x(local(30, 0)), 0)
}

// The step of a better hour is never lower.
func TestLanesHeightIsQuality(t *testing.T) {
	tops := map[int]float64{}
	for h := range 4 {
		l := Lanes{Title: "one", From: local(8, 0), To: local(9, 0), Lanes: []Lane{{"kite", []Level{{At: local(8, 0), Height: h}}}}}
		for _, p := range sound(t, l).paths {
			if p["stroke-width"] == "2" {
				tops[h] = walk(t, p["d"])[0][1]
			}
		}
	}
	require.Len(t, tops, 4)
	require.InDelta(t, 14, tops[2]-tops[3], 1e-9)
	require.InDelta(t, 14, tops[1]-tops[2], 1e-9)
	require.InDelta(t, 14, tops[0]-tops[1], 1e-9)
}

// A day of 25 hours has 25 hours on the axis: in New York the clock went back
// at 02:00 on 7 November 2027 (first Sunday of November, Energy Policy Act of
// 2005, section 110).
func TestLanesOverTheClockChange(t *testing.T) {
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	l := Lanes{
		Title: "long day", Zone: zone, From: time.Date(2027, 11, 7, 0, 0, 0, 0, zone), To: time.Date(2027, 11, 7, 6, 0, 0, 0, zone),
		Lanes: []Lane{{"kite", []Level{{At: time.Date(2027, 11, 7, 3, 0, 0, 0, zone), Height: 2, Word: "fair"}}}},
	}
	require.Equal(t, 7*time.Hour, l.To.Sub(l.From))
	s := sound(t, l)
	require.Equal(t, 2, s.count("01:00"))
	require.Equal(t, 1, s.count("02:00"))
}

func TestLanesNothingInTheTime(t *testing.T) {
	l := day()
	l.From, l.To = local(40, 0), local(50, 0)
	_, err := l.SVG()
	require.ErrorIs(t, err, ErrNothing)
}

// Whatever comes in, words keep apart and all stays on the paper.
func TestLanesHoldAgainstAnything(t *testing.T) {
	turn := rapid.SampledFrom([]TurnKind{TurnHigh, TurnLow, TurnSlack, TurnFlood, TurnEbb, "other"})
	rapid.Check(t, func(t *rapid.T) {
		word := func(name string) string { return hostile().Draw(t, name) }
		at := func(name string) time.Time { return instants().Draw(t, name) }
		l := Lanes{
			ID: word("id"), Title: word("title"), Description: word("description"), Zone: zones().Draw(t, "zone"),
			From: at("from"), To: at("to"), Now: opt(instants()).Draw(t, "now"), Narrow: rapid.Bool().Draw(t, "narrow"),
			Sun: models.SunTimes{
				CivilDawn: opt(instants()).Draw(t, "dawn"), Rise: opt(instants()).Draw(t, "rise"),
				Set: opt(instants()).Draw(t, "set"), CivilDusk: opt(instants()).Draw(t, "dusk"),
			},
			Labels: LaneLabels{
				word("l1"), word("l2"), word("l3"), word("l4"), word("l5"), word("l6"),
				word("l7"), word("l8"), word("l9"), word("l10"), word("l11"), word("l12"),
			},
		}
		for range rapid.IntRange(0, 4).Draw(t, "lanes") {
			lane := Lane{Name: word("lane")}
			for range rapid.IntRange(0, 20).Draw(t, "levels") {
				lane.Levels = append(lane.Levels, Level{at("at"), rapid.IntRange(-2, 5).Draw(t, "height"), word("word"), rapid.Bool().Draw(t, "closed")})
			}
			l.Lanes = append(l.Lanes, lane)
		}
		for range rapid.IntRange(0, 3).Draw(t, "bars") {
			l.Bars = append(l.Bars, LaneBar{at("bar from"), at("bar to"), word("bar")})
		}
		for range rapid.IntRange(0, 6).Draw(t, "turns") {
			l.Turns = append(l.Turns, Turn{at("turn"), turn.Draw(t, "kind"), word("turn words")})
		}
		for range rapid.IntRange(0, 4).Draw(t, "stretches") {
			l.Tactic = append(l.Tactic, Stretch{at("s"), at("e"), word("tactic"), []int{rapid.IntRange(-1, 4).Draw(t, "in")}})
		}
		if _, err := l.SVG(); err != nil {
			require.ErrorIs(t, err, ErrNothing)
			return
		}
		sound(t, l)
	})
}
