package notify

import (
	"regexp"
	"strings"

	"forecastd/internal/models"
)

// logged is who a message is for as the log may tell it: guests are erased
// some days after their trip, and a log keeps what it has. The message's ID
// has the mark of their booking.
func logged(m models.Message) string {
	if m.Notice == models.NoticeGuests {
		return "guests"
	}
	return m.Person
}

// discreet is what a server said of a message as the log may tell it: servers
// quote the address, and sometimes the name, of whom they refuse.
func discreet(m models.Message, said string) string {
	if m.Notice != models.NoticeGuests {
		return said
	}
	names := []string{m.Person}
	for _, r := range m.Routes {
		local, _, _ := strings.Cut(r.Address, "@")
		names = append(names, r.Address, local)
	}
	for _, name := range names {
		if name = strings.TrimSpace(name); name != "" {
			said = regexp.MustCompile(`(?i)`+regexp.QuoteMeta(name)).ReplaceAllLiteralString(said, "(guests)")
		}
	}
	return said
}
