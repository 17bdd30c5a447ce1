package config

import (
	"strings"
	"time"

	"forecastd/internal/models"
)

// Calendar is how good each month is for tailing fish, January first.
type Calendar [12]models.Season

// On returns the season of a day.
func (c Calendar) On(d models.Date) models.Season {
	if d.Month < time.January || d.Month > time.December {
		return models.SeasonOff
	}
	return c[d.Month-1]
}

// DefaultCalendar returns the months of a subtropical east coast with
// north-going current: common practice, no source. Every other coast needs
// the captain's own.
func DefaultCalendar() Calendar {
	return Calendar{
		models.SeasonPeak, models.SeasonPeak, models.SeasonSpringRun, models.SeasonSpringRun, // January to April
		models.SeasonGood, models.SeasonTailEnd, models.SeasonOff, models.SeasonOff, // May to August
		models.SeasonOff, models.SeasonTailEnd, models.SeasonGood, models.SeasonPeak, // September to December
	}
}

func readSeason(t *table) Calendar {
	g := t.group("season", "how good each month is for tailing fish")
	c := DefaultCalendar()
	k := word("a season", models.SeasonPeak, models.SeasonSpringRun, models.SeasonGood, models.SeasonTailEnd, models.SeasonOff)
	for m := range c {
		c[m] = want(g, strings.ToLower(time.Month(m+1).String()), k, c[m])
	}
	g.done()
	return c
}
