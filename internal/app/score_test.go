package app_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/store"
)

// A tactic that nobody has told the methods of can be neither right nor wrong:
// the score says so and counts nothing.
func TestAnUnheardOfTacticIsNoScore(t *testing.T) {
	a, st := keeping(t, evening)
	d := day(t, "2027-01-08")
	_, err := st.AddCall(t.Context(), store.Call{Port: demoPort, Ground: demoGround, Confidence: models.Sure, Agreement: 0.9, Document: []byte("{}"),
		Standing: models.Standing{Made: d.AddDays(-1).Start(time.UTC), Date: d, Going: true, Tactic: "downrigger"}})
	require.NoError(t, err)
	_, err = a.Log(t.Context(), app.LogRequest{Date: d, Tactic: models.TacticKite})
	require.NoError(t, err)
	_, err = a.Score(t.Context(), "", "", 60)
	require.ErrorContains(t, err, `2027-01-08: nothing is known of the tactic "downrigger"`)
}
