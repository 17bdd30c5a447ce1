package webtest

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Options say what is walked.
type Options struct {
	// Paths are the pages.
	Paths []string
	// Marks are CSS selectors of which each page by its path must have one
	// element at least.
	Marks map[string][]string
	// Role and Passphrase log in; without them the pages are those of a
	// visitor.
	Role, Passphrase string
}

// looks, languages and widths are those that a page is looked at in.
func looks() []string     { return []string{"light", "dark", "night"} }
func languages() []string { return []string{"en", "es"} }
func widths() []int64     { return []int64{360, 1280} }

// seen is what the browser tells of a page.
type seen struct {
	Headings, Mains, Unnamed, Empty int
	Wide, Window                    int
	Lang, Look                      string
	Missing                         []string
}

const look = `((marks) => ({
	Headings: document.querySelectorAll("h1").length,
	Mains: document.querySelectorAll("main").length,
	Unnamed: [...document.querySelectorAll("svg")].filter((s) => s.getAttribute("aria-hidden") !== "true" && !s.querySelector("title") && !s.hasAttribute("aria-label") && !s.hasAttribute("aria-labelledby")).length,
	Empty: [...document.querySelectorAll("svg")].filter((s) => !s.querySelector("path, line, rect, polyline, polygon, circle, text")).length,
	Wide: document.documentElement.scrollWidth, Window: window.innerWidth,
	Lang: document.documentElement.lang, Look: document.documentElement.className,
	Missing: marks.filter((m) => !document.querySelector(m)),
}))(%s)`

// Walk looks at every page in every look, language and width: nothing on the
// console, no request to anyone else, no scrolling sideways, one heading, a
// name for every figure, the marks that are wanted; and with axe-core, where
// FORECASTD_AXE names it, nothing against WCAG 2.2 A and AA.
func Walk(t *testing.T, base string, o Options) {
	t.Helper()
	axe := axeFile(t)
	b := Open(t, base)
	if o.Role != "" {
		b.Login(o.Role, o.Passphrase)
	}
	for _, l := range looks() {
		for _, language := range languages() {
			b.Send("/choices", url.Values{"look": {l}, "language": {language}, "back": {"/"}})
			for _, path := range o.Paths {
				for _, width := range widths() {
					name := fmt.Sprintf("%s-%s-%s-%d", name(path, o.Role), l, language, width)
					t.Run(name, func(t *testing.T) {
						here := b.in(t)
						here.Width(width)
						here.Go(path)
						s := Ask[seen](here, fmt.Sprintf(look, quoted(o.Marks[path])))
						require.Equal(t, 1, s.Headings, "h1")
						require.Equal(t, 1, s.Mains, "main")
						require.Equal(t, language, s.Lang)
						require.Equal(t, "look-"+l, s.Look)
						require.Zero(t, s.Unnamed, "figures without a name")
						require.Zero(t, s.Empty, "figures with nothing in them")
						require.Empty(t, s.Missing, "marks that are not there")
						require.LessOrEqual(t, s.Wide, s.Window, "the page scrolls sideways")
						here.Shot(name)
						// Colours differ by look alone; words and widths are
						// looked at in one.
						if axe != "" && (language == "en" && width < 600 || l == "light" && (language == "en" || width < 600)) {
							require.Empty(t, here.axe(axe))
						}
						require.Empty(t, here.Complaints())
					})
				}
			}
		}
	}
}

// name makes a file's name of a path.
func name(path, role string) string {
	s := strings.Trim(strings.NewReplacer("/", "-", "?", "-", "=", "-").Replace(path), "-")
	if s == "" {
		s = "tomorrow"
	}
	if role != "" {
		s += "-" + role
	}
	return s
}

// quoted writes strings as a list that JavaScript reads.
func quoted(list []string) string {
	var parts []string
	for _, s := range list {
		parts = append(parts, fmt.Sprintf("%q", s))
	}
	return "[" + strings.Join(parts, ", ") + "]"
}
