package web_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/web"
)

// What was understood of a report is told in the visitor's own language, and
// marked as no other.
func TestAReportIsAnsweredInTheReadersLanguage(t *testing.T) {
	d := newDesk(t)
	d.board.Language = "es"
	v := loggedIn(t, newServer(t, d), web.Captain)
	v.post("/reports", v.form("shower", "say", "yes"))
	require.Contains(t, v.get("/reports").Body.String(), `>Hecho. done: report captain showering yes</p>`)
}

// The days ahead as a document carry what is official of each day, and never
// an unknown feed as an empty one.
func TestTheDaysDocumentCarriesWarnings(t *testing.T) {
	d := newDesk(t)
	get := func() string { return ask(newServer(t, d), "GET", "/api/v1/days").Body.String() }
	require.Contains(t, get(), `"warnings": [`)
	require.Contains(t, get(), `"event": "Small Craft Advisory"`)
	require.Contains(t, get(), `"past_warnings": false`)
	require.Contains(t, get(), `"gust_kn": 22`)
	d.board.Days[0].Short.Warnings = models.Unknown[[]models.Warning]()
	require.Contains(t, get(), `"warnings": null`)
}
