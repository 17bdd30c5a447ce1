package nws

import (
	"errors"
	"regexp"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Coastal is a coastal waters forecast, read.
type Coastal struct {
	// Texts has one entry a zone, in the product's order, the segment of the
	// synopsis left out.
	Texts []models.OfficialText
	// Synopsis is the synopsis, verbatim; empty where there is none.
	Synopsis string
	Notes    []string
}

// ParseCoastal reads a coastal waters forecast. It is text for people: nothing
// in it becomes a number. The reference time is as for ParseProduct.
func ParseCoastal(text string, ref time.Time) (Coastal, error) {
	p, err := ParseProduct(text, ref)
	if err != nil {
		return Coastal{}, err
	}
	c := Coastal{Notes: p.Notes}
	if !p.Issued.Known() {
		c.Notes = append(c.Notes, "the coastal waters forecast does not say when it was issued")
	}
	// A synopsis speaks for the zones that follow it, up to the next one.
	edge := ""
	for _, seg := range p.Segments {
		if synopsis := strings.TrimSpace(seg.Text); isSynopsis(seg) {
			c.Synopsis = strings.TrimSpace(c.Synopsis + "\n\n" + synopsis)
			edge = StreamEdge(synopsis)
			continue
		}
		if strings.TrimSpace(seg.Text) == "" {
			c.Notes = append(c.Notes, "the coastal waters forecast has an empty segment for "+strings.Join(seg.Zones, ", "))
			continue
		}
		own := StreamEdge(seg.Text)
		if own == "" {
			own = edge
		}
		for i, zone := range seg.Zones {
			name := strings.Join(seg.Names, "; ")
			if len(seg.Names) == len(seg.Zones) {
				name = seg.Names[i]
			}
			c.Texts = append(c.Texts, models.OfficialText{
				Zone: zone, Name: name, Office: p.Office,
				Issued:  seg.Issued.Else(p.Issued).Or(time.Time{}),
				Expires: seg.Purge, Headlines: Headlines(seg.Text),
				Body: seg.Text, StreamEdge: own,
			})
		}
	}
	if len(c.Texts) == 0 {
		return Coastal{}, errors.New("read coastal waters forecast: it has no forecast for any zone")
	}
	return c, nil
}

// isSynopsis tells a synopsis by its text or by its area's name.
func isSynopsis(seg Segment) bool {
	begins := func(s, with string) bool {
		return len(s) >= len(with) && strings.EqualFold(s[:len(with)], with)
	}
	return begins(strings.TrimSpace(seg.Text), ".synopsis") || len(seg.Names) > 0 && begins(seg.Names[0], "synopsis")
}

// Headlines collects the headlines above the first period of a segment: each
// runs from three dots at the start of a line to three dots at the end of
// one, and may be wrapped.
func Headlines(text string) []string {
	var out []string
	open := ""
	closeIt := func() {
		if h := strings.TrimSpace(strings.Trim(open, ".")); h != "" {
			out = append(out, h)
		}
		open = ""
	}
	for _, l := range strings.Split(text, "\n") {
		l = strings.TrimSpace(l)
		starts := strings.HasPrefix(l, "...")
		if strings.HasPrefix(l, ".") && !starts || strings.HasPrefix(l, "*") {
			break // the first period or bullet
		}
		switch {
		case open == "" && !starts:
			continue
		case l == "":
			closeIt()
			continue
		case open == "":
			open = l
		default:
			open += " " + l
		}
		if strings.HasSuffix(l, "...") && strings.Trim(open, ".") != "" {
			closeIt()
		}
	}
	closeIt()
	return out
}

// StreamEdge finds what a text says about how far off the edge of the stream
// runs, verbatim but for its line breaks: the sentence that names the stream
// and its edge or wall, and the distances that follow it. Empty where the
// text does not say. How the offices word it is common practice, no source.
func StreamEdge(text string) string {
	names := regexp.MustCompile(`(?i)\b(gulf\s+stream|florida\s+current|loop\s+current)\b`)
	edge := regexp.MustCompile(`(?i)\b(edge|wall|boundary)\b`)
	far := regexp.MustCompile(`(?i)\b\d+(\.\d+)?\s*(nautical\s+miles?|n\.?m\.?i?)\b`)
	var out []string
	for _, sentence := range sentences(text) {
		named := names.MatchString(sentence) && edge.MatchString(sentence)
		if named || len(out) > 0 && far.MatchString(sentence) {
			out = append(out, sentence)
			continue
		}
		if len(out) > 0 {
			break
		}
	}
	// A sentence that names the edge and gives no distance anywhere is about
	// something else.
	joined := strings.Join(out, " ")
	if !far.MatchString(joined) {
		return ""
	}
	return joined
}

// sentences cuts a text at full stops, blank lines and the names of periods.
// An abbreviation within a sentence may cut it too early; the pieces stay
// verbatim.
func sentences(text string) []string {
	var out []string
	stop := regexp.MustCompile(`\.+ `)
	for _, paragraph := range regexp.MustCompile(`\n\s*\n|\n\.`).Split(text, -1) {
		flat := strings.Join(strings.Fields(paragraph), " ")
		last := 0
		for _, at := range stop.FindAllStringIndex(flat, -1) {
			out = append(out, flat[last:at[1]-1])
			last = at[1]
		}
		if last < len(flat) {
			out = append(out, flat[last:])
		}
	}
	return out
}
