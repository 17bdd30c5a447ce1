package webtest

import (
	"fmt"
	"net/url"
	"os"
	"slices"
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
	// Every looks in each look, language and width where CI=true; else only
	// where pictures are wanted.
	Every bool
}

// sight is a way to look at a page.
type sight struct {
	look, language string
	width          int64
}

// sights are the ways that pages are looked at in: all, or two that have each
// once.
func sights(every bool) []sight {
	if !(every && os.Getenv("CI") == "true") && os.Getenv("FORECASTD_SHOTS") == "" {
		return []sight{{"light", "en", 360}, {"night", "es", 1280}}
	}
	var list []sight
	for _, look := range []string{"light", "dark", "night"} {
		for _, language := range []string{"en", "es"} {
			list = append(list, sight{look, language, 360}, sight{look, language, 1280})
		}
	}
	return list
}

// axed tells whether the checker looks too. Contrast differs by look alone;
// words and widths are looked at in one.
func (s sight) axed() bool {
	narrow, english := s.width < 600, s.language == "en"
	return narrow && english || s.look == "light" && (narrow || english)
}

// seen is what the browser tells of a page; Wide is with all that is folded
// opened.
type seen struct {
	Headings, Mains, Unnamed, Empty int
	Wide                            int64
	Lang, Look                      string
	Missing                         []string
}

const look = `((marks) => ({
	Headings: document.querySelectorAll("h1").length,
	Mains: document.querySelectorAll("main").length,
	Unnamed: [...document.querySelectorAll("svg")].filter((s) => s.getAttribute("aria-hidden") !== "true" && !s.querySelector("title") && !s.hasAttribute("aria-label") && !s.hasAttribute("aria-labelledby")).length,
	Empty: [...document.querySelectorAll("svg")].filter((s) => !s.querySelector("path, line, rect, polyline, polygon, circle, text")).length,
	Wide: ((shut) => {
		shut.forEach((d) => { d.open = true; });
		const wide = document.documentElement.scrollWidth;
		shut.forEach((d) => { d.open = false; });
		return wide;
	})([...document.querySelectorAll("details:not([open])")]),
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
	for _, by := range sights(o.Every) {
		b.Send("/choices", url.Values{"look": {by.look}, "language": {by.language}, "back": {"/"}})
		b.Width(by.width)
		for _, path := range o.Paths {
			name := fmt.Sprintf("%s-%s-%s-%d", name(path, o.Role), by.look, by.language, by.width)
			t.Run(name, func(t *testing.T) {
				here := b.in(t)
				here.Go(path)
				s := Ask[seen](here, fmt.Sprintf(look, quoted(o.Marks[path])))
				require.Equal(t, 1, s.Headings, "h1")
				require.Equal(t, 1, s.Mains, "main")
				require.Equal(t, by.language, s.Lang)
				require.Equal(t, "look-"+by.look, s.Look)
				require.Zero(t, s.Unnamed, "figures without a name")
				require.Zero(t, s.Empty, "figures with nothing in them")
				require.Empty(t, s.Missing, "marks that are not there")
				require.LessOrEqual(t, s.Wide, by.width, "the page scrolls sideways")
				here.Shot(name)
				if axe != "" && by.axed() {
					require.Empty(t, here.axe(axe))
				}
				// That a page itself was refused is no complaint: some are
				// walked for that.
				own := func(said string) bool { return strings.HasSuffix(said, "("+here.base+path+")") }
				require.Empty(t, slices.DeleteFunc(here.Complaints(), own))
			})
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
