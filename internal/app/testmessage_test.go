package app_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
)

// A test message goes to everybody by every way, and what came of each is told:
// taken over, refused with the server's words, or no way there at all.
func TestATestMessageByEachWayToEachPerson(t *testing.T) {
	office := &postOffice{refuses: map[string]bool{"ben@example.com": true}, tried: map[string]int{}}
	port := office.open(t)
	head, _, _ := strings.Cut(daemonText, "people:\n")
	cfg, err := config.Load("forecastd.yaml", []byte(head+"people:\n"+
		"  - {name: Ana, role: captain, address: ana@example.com, second: ana2@example.com, language: es}\n"+
		"  - {name: Ben, role: mate, address: ben@example.com}\n"+
		"  - {name: Cleo, role: shore contact, address: \"https://hooks.example/secret-path\"}\n"+
		"sources: {contact: captain@example.com}\n"+
		"mail: {host: 127.0.0.1, port: "+port+", encryption: none, from: Second Light <boat@example.com>}\n"))
	require.NoError(t, err)
	var told []string
	ask := func(person string) error {
		told = nil
		return app.SendTests(t.Context(), app.ServeOptions{Options: app.Options{Config: cfg, Now: time.Now}}, person, func(r app.Tried) { told = append(told, r.String()) })
	}
	require.NoError(t, ask(""))
	require.Len(t, told, 4)
	require.Equal(t, "Ana, e-mail ana@example.com: taken over; ask whether it has arrived", told[0])
	require.Equal(t, "Ana, e-mail ana2@example.com: taken over; ask whether it has arrived", told[1])
	require.Contains(t, told[2], "Ben, e-mail ben@example.com: NOT SENT: ")
	require.Contains(t, told[2], "not from you")
	require.Contains(t, told[3], "Cleo, webhook at hooks.example: NOT SENT: the configuration has no webhook to send by")
	require.NotContains(t, told[3], "secret-path")
	require.Equal(t, []string{"Mensaje de prueba"}, office.to("ana@example.com"))
	require.Equal(t, []string{"Mensaje de prueba"}, office.to("ana2@example.com"))

	require.NoError(t, ask("ana"))
	require.Len(t, told, 2)
	require.Len(t, office.to("ana@example.com"), 2, "each is another message")
	require.ErrorContains(t, ask("Dan"), `names no person "Dan"`)
}
