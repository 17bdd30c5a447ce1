package scoring_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/scoring"
	"forecastd/internal/words"
)

// What a mate loads for kites: common practice, no source.
func TestTheLoadListIsWhatAMateLoads(t *testing.T) {
	o := fairDay(t)
	o.Trip.Guests = models.Known(4)
	c := scoring.Judge(o, models.DefaultLimits(), scoring.With{})
	by := map[string]models.LoadItem{}
	for _, i := range c.Load {
		by[i.What] = i
	}
	for _, what := range []string{"circle hook", "bridle bands and needle", "swivels", "wire for short traces", "spare kite line", "dehooker", "ice", "life jacket"} {
		require.Contains(t, by, what)
	}
	require.Equal(t, o.Boat.Crew+4, by["life jacket"].Count, "one for everybody aboard")
	own := scoring.Judge(o, models.DefaultLimits(), scoring.With{Gear: []models.Gear{
		{Kind: models.GearRigging, Name: "the rigging box", Count: 1, Stow: "console"}, {Kind: models.GearHook, Name: "my hooks", Count: 200},
	}})
	names := []string{}
	for _, i := range own.Load {
		names = append(names, i.What)
	}
	require.Contains(t, names, "the rigging box")
	require.Contains(t, names, "my hooks")
	require.NotContains(t, names, "swivels", "his own list is the source")
	require.NotContains(t, names, "circle hook")
}

func TestAMetricReaderReadsAMetricLoadList(t *testing.T) {
	c := scoring.Judge(fairDay(t), models.DefaultLimits(), scoring.With{})
	metric := words.NewTeller(words.Reader{Language: words.English, Measures: words.Metric}, c.Port.Zone, c.Date).LoadList(c)
	require.NotContains(t, metric, " ft")
	require.Contains(t, metric, "leader, 30-50 lb, ")
}

// A captain alone with two kite baits up does not take a full crew's baits.
func TestBaitsGoByTheSpreadThatIsFlown(t *testing.T) {
	o := fairDay(t)
	needed := func(crew int) int {
		o.Boat.Crew = crew
		c := scoring.Judge(o, models.DefaultLimits(), scoring.With{})
		b, _ := c.Bait.Get()
		n, ok := b.Needed.Get()
		require.True(t, ok)
		i := slices.IndexFunc(c.Load, func(i models.LoadItem) bool { return strings.HasPrefix(i.What, "goggle-eye") })
		require.Equal(t, n.Hardy, c.Load[i].Count)
		return n.Total()
	}
	require.Equal(t, 84, needed(3))
	require.LessOrEqual(t, needed(1), 42)
	require.LessOrEqual(t, needed(2), needed(3))
}
