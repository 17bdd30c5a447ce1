package web_test

import (
	"testing"

	"github.com/stretchr/testify/require"

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
