package words

import "forecastd/internal/models"

// BestDays names for each kind of party the days that ride easiest; empty
// where none is good.
func (t Teller) BestDays(days []models.DayOutlook) []Section { return t.bestDays(days) }
