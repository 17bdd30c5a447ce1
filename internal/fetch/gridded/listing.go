package gridded

import (
	"bytes"
	"errors"
	"html"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// maxLinks bounds what a listing may claim.
const maxLinks = 5000

var errNoLinks = errors.New("the page has no links: it is not the listing of a folder")

// ParseListing reads the names in a folder's listing, a web page: the links to
// what stands directly in the folder, subfolders with a slash behind them.
// Links elsewhere (up, to other hosts, with a query) are passed over. A page
// without any link is no listing.
func ParseListing(page []byte) ([]string, error) {
	if !bytes.HasPrefix(bytes.TrimSpace(page), []byte("<")) {
		return nil, errors.New("the listing of the folder is no web page")
	}
	link := regexp.MustCompile(`(?i)<a\s[^>]*?href\s*=\s*(?:"([^"]*)"|'([^']*)')`)
	found := link.FindAllSubmatch(page, maxLinks)
	if len(found) == 0 {
		return nil, errNoLinks
	}
	var names []string
	for _, m := range found {
		name := html.UnescapeString(string(m[1]) + string(m[2]))
		inner := strings.TrimSuffix(name, "/")
		plain := inner != "" && !strings.HasPrefix(inner, ".") && strings.IndexFunc(inner, func(r rune) bool {
			return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' || r == '_' || r == '-')
		}) < 0
		if plain && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	return names, nil
}

// startsIn picks the subfolders that are hours of a day.
func startsIn(names []string, day time.Time) []time.Time {
	var list []time.Time
	for _, n := range names {
		inner, folder := strings.CutSuffix(n, "/")
		if h, err := strconv.ParseUint(inner, 10, 8); folder && len(inner) == 2 && err == nil && h < 24 {
			list = append(list, time.Date(day.Year(), day.Month(), day.Day(), int(h), 0, 0, 0, time.UTC))
		}
	}
	return list
}
