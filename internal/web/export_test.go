package web

import (
	"forecastd/internal/web/door"
)

// Row is a row of the table of routes, for tests.
type Row struct {
	Pattern string
	Needs   Role
	Form    bool
}

// Rows lists the addresses of a server.
func Rows(o Options) ([]Row, error) {
	s, err := New(o)
	if err != nil {
		return nil, err
	}
	var rows []Row
	for _, r := range s.rows {
		rows = append(rows, Row{r.Pattern, r.Needs, r.Form})
	}
	return rows, nil
}

// FlashOf is what a server reads from the cookie of a sentence.
func FlashOf(o Options, path, value string, role Role) string {
	d, err := door.New(o.Options)
	if err != nil {
		return err.Error()
	}
	return (&Server{o: o, door: d}).readFlash(path, value, role)
}

// ChoicesOf reads the cookie of choices and writes it again.
func ChoicesOf(value string) string { return readChoice(value).String() }

// Preferred is the language that a header asks for.
func Preferred(header string) string { return preferred(header, languageNames()) }
