package config

import (
	"fmt"
	"net/mail"
	"strings"

	"forecastd/internal/models"
)

// Role is what a person is to the boat.
type Role string

// Roles.
const (
	Captain Role = "captain"
	Mate    Role = "mate"
	Owner   Role = "owner"
	Shore   Role = "shore contact"
)

// Notice is a sort of message that people get.
type Notice string

// Sorts of message.
const (
	NoticeCall      Notice = "evening call"
	NoticeMorning   Notice = "morning"
	NoticeAlert     Notice = "alerts"
	NoticeDraft     Notice = "drafts"
	NoticeTrouble   Notice = "trouble"
	NoticeFloatPlan Notice = "float plan"
)

// Person is somebody who is told.
type Person struct {
	Name string
	Role Role
	// Address is an e-mail address, or the https address of a webhook; Second
	// is another, tried when the first keeps failing.
	Address, Second string

	Language models.Language
	Units    Units
	// QuietFrom and QuietTo bound the hours in which only what can't wait is
	// sent, on the port's clock; they may span midnight.
	QuietFrom, QuietTo models.Opt[models.Clock]
	What               []Notice
}

func readPeople(t *table, u Units, l models.Language) []Person {
	var out []Person
	names := map[string]bool{}
	for _, g := range t.list("people", "who is told, one person behind each dash", optional) {
		if g.vals == nil {
			continue
		}
		p := Person{
			Name:     need(g, "name", text("the person's name")),
			Role:     need(g, "role", word("a role", Captain, Mate, Owner, Shore)),
			Address:  need(g, "address", address()),
			Second:   maybe(g, "second", address()).Or(""),
			Language: want(g, "language", word("a language", models.Languages()...), l),
			Units:    want(g, "units", word("a system of units", Nautical, Metric), u),
		}
		p.What = readWhat(g, p.Role)
		if q, ok := g.part("quiet", "hours in which only what can't wait is sent"); ok {
			p.QuietFrom, p.QuietTo = models.Known(need(q, "from", clock())), models.Known(need(q, "to", clock()))
			if p.QuietFrom == p.QuietTo && q.ok("from", "to") {
				q.fail("to", "is the same as from, quiet all day: write another time")
			}
			q.done()
		}
		unique(names, g, "name", p.Name)
		g.done()
		out = append(out, p)
	}
	return out
}

// readWhat reads which messages a person gets. By default the captain gets what
// a boat can't do without, those ashore the float plan.
func readWhat(g *table, r Role) []Notice {
	const byRole = "[evening call, morning, alerts]; the captain drafts and trouble too, a shore contact [float plan] alone"
	if list, ok := values(g, "what", word("a sort of message", NoticeCall, NoticeMorning, NoticeAlert, NoticeDraft, NoticeTrouble, NoticeFloatPlan), byRole); ok {
		return list
	}
	switch r {
	case Captain:
		return []Notice{NoticeCall, NoticeMorning, NoticeAlert, NoticeDraft, NoticeTrouble}
	case Shore:
		return []Notice{NoticeFloatPlan}
	case Mate, Owner:
	}
	return []Notice{NoticeCall, NoticeMorning, NoticeAlert}
}

// email is a bare e-mail address.
func email() kind[string] {
	const what = "an e-mail address, as captain@example.com"
	return kind[string]{
		what: what,
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			a, err := mail.ParseAddress(s)
			if err != nil || a.Address != s || !strings.Contains(s, ".") {
				return "", fmt.Errorf("%q is no e-mail address: write one, as captain@example.com", s)
			}
			return s, nil
		},
	}
}
