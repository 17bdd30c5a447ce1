package words_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/words"
)

func TestVerdictOfStayingIn(t *testing.T) {
	tell := words.NewTeller(words.Reader{}, time.UTC, models.Date{Year: 2027, Month: 1, Day: 19})
	c := models.Call{Tactic: models.TacticStayIn, CaptainDecides: true, Trip: models.Trip{Kind: models.OwnTrip}}
	require.Equal(t, "stay in (captain decides)", tell.Verdict(c))
	c.Trip.Kind = models.Charter
	require.Equal(t, "stay in", tell.Verdict(c))
}

// The hour by which guests are told is no deadline any more once it is past.
func TestTellByIsPast(t *testing.T) {
	by := time.Date(2027, 1, 18, 19, 0, 0, 0, time.UTC)
	c := models.Call{
		Made: by.Add(-2 * time.Hour), Date: models.Date{Year: 2027, Month: 1, Day: 19}, Tactic: models.TacticStayIn,
		Charter: models.Known(models.CharterCall{Actions: []models.CharterAction{models.CharterMove}, TellBy: models.Known(by)}),
	}
	tell := words.NewTeller(words.Reader{}, time.UTC, models.Date{Year: 2027, Month: 1, Day: 19})
	require.Contains(t, tell.Text(c, c.Made), "Tell the guests by Mon 19:00.")
	require.Contains(t, tell.Text(c, by.Add(3*time.Hour)), "is past (Mon 19:00): tell them now.")
}
