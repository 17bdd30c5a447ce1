package web

import (
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/web/door"
	"forecastd/internal/words"
)

// choicesLast is how long a browser keeps how its owner likes the pages.
const choicesLast = 365 * 24 * time.Hour

// choices is how a visitor likes the pages; an empty one is not chosen.
type choices struct{ Look, Language, Units string }

func looks() []string { return []string{lookAuto, lookLight, lookDark, lookNight, lookSun} }

func measures() []string { return []string{string(words.Nautical), string(words.Metric)} }

func languageNames() []string {
	var names []string
	for _, l := range words.Languages() {
		names = append(names, string(l))
	}
	return names
}

// readChoice reads the cookie "choices": look, language and units with dots
// between them. What is none of ours is not chosen.
func readChoice(value string) choices {
	parts := strings.Split(value, ".")
	if len(value) > 64 || len(parts) != 3 {
		return choices{}
	}
	return choices{Look: among(parts[0], looks()), Language: among(parts[1], languageNames()), Units: among(parts[2], measures())}
}

// String is the cookie's value.
func (c choices) String() string { return c.Look + "." + c.Language + "." + c.Units }

// among is the value if it is one of the list.
func among(value string, list []string) string {
	if slices.Contains(list, value) {
		return value
	}
	return ""
}

// readChoices reads how the visitor likes the pages.
func (v *view) readChoices() {
	v.Look = lookAuto
	var c choices
	if cookie, err := v.Request.Cookie("choices"); err == nil {
		c = readChoice(cookie.Value)
	}
	if c.Look != "" {
		v.Look = c.Look
	}
	if c.Units != "" {
		v.Reader.Measures = words.Measures(c.Units)
	}
	switch b, err := v.Board(); {
	case c.Language != "":
		v.Reader.Language = words.Language(c.Language)
	case err != nil || b.Language == "":
		v.Reader.Language = words.Language(preferred(v.Request.Header.Get("Accept-Language"), languageNames()))
	}
}

// preferred is the language that a browser likes best of those that we have;
// the first of ours where it says nothing (RFC 9110 section 12.5.4).
func preferred(header string, have []string) string {
	best, weight := have[0], 0.0
	for i, item := range strings.Split(header, ",") {
		if i == 20 {
			break
		}
		name, params, _ := strings.Cut(strings.TrimSpace(item), ";")
		q := 1.0
		if v, ok := strings.CutPrefix(strings.TrimSpace(params), "q="); ok {
			n, err := strconv.ParseFloat(v, 64)
			if err != nil || !(n >= 0 && n <= 1) {
				continue
			}
			q = n
		}
		primary, _, _ := strings.Cut(strings.ToLower(name), "-")
		if slices.Contains(have, primary) && q > weight {
			best, weight = primary, q
		}
	}
	return best
}

// choose keeps how the visitor likes the pages. What he does not say stays.
func (s *Server) choose(v *view, w http.ResponseWriter) error {
	f, err := s.readForm(v, route{})
	if err != nil {
		return err
	}
	var c choices
	if cookie, err := v.Request.Cookie("choices"); err == nil {
		c = readChoice(cookie.Value)
	}
	for _, one := range []struct {
		name string
		have []string
		to   *string
	}{{"look", looks(), &c.Look}, {"language", languageNames(), &c.Language}, {"units", measures(), &c.Units}} {
		said := f.get(one.name)
		if said == "" {
			continue
		}
		if *one.to = among(said, one.have); *one.to == "" {
			return &door.Refusal{Status: http.StatusUnprocessableEntity, Key: "choices.unknown", Detail: strings.Join(one.have, ", ")}
		}
	}
	http.SetCookie(w, &http.Cookie{
		Name: "choices", Value: c.String(), Path: "/", MaxAge: int(choicesLast / time.Second),
		HttpOnly: true, Secure: s.door.Secure(v.Request), SameSite: http.SameSiteLaxMode,
	})
	seeOther(w, door.LocalPath(f.Values.Get("back")))
	return nil
}
