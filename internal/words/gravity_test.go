package words_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

// A rip current statement that began before the small craft advisory stands
// after it, in the text and in the few characters of a phone.
func TestTheGravestProductStandsFirst(t *testing.T) {
	date := models.Date{Year: 2027, Month: 1, Day: 19}
	day := date.Start(time.UTC)
	product := func(event, phen, sig string, from int) models.Warning {
		return models.Warning{Event: event, Phenomenon: phen, Significance: sig, Zone: "AMZ997", Text: "Invented.",
			Onset: day.Add(time.Duration(from) * time.Hour), Ends: models.Known(day.Add(20 * time.Hour))}
	}
	c := models.Call{Date: date, Port: models.Port{Zone: time.UTC}, Tactic: models.TacticStayIn, Confidence: models.Sure, Warnings: models.Known([]models.Warning{
		product("Rip Current Statement", "RP", "S", 0), product("Small Craft Advisory", "SC", "Y", 6), product("Gale Watch", "GL", "A", 12)})}
	teller := words.NewTeller(words.Reader{}, time.UTC, date)
	for name, said := range map[string]string{"text": teller.Text(c, day), "short": teller.Short(c)} {
		said = strings.ToUpper(said)
		gale, craft, rip := strings.Index(said, "GALE WATCH"), strings.Index(said, "SMALL CRAFT"), strings.Index(said, "RIP CURRENT")
		require.True(t, 0 <= gale && gale < craft && (craft < rip || rip < 0), "%s: %s", name, said)
	}
}
