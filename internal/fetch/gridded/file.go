package gridded

import (
	"bytes"
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/fetch/httpx"
	"forecastd/internal/models"
)

// Sizes that no honest answer passes.
const (
	maxListing = 1 << 20
	maxIndex   = 4 << 20
	maxBlock   = 64 << 20
	maxWhole   = 128 << 20
)

// blocked is how long a service that has had enough of us is left alone
// (common practice, no source).
const blocked = 10 * time.Minute

// get asks for one thing, counts its bytes, and tells a service that has had
// enough of us by what it does instead of saying so.
func (s *Source) get(ctx context.Context, req httpx.Request) (*httpx.Response, error) {
	req.Source = s.Name()
	want := req.Want
	if s.o.Product.Quota {
		req.Want = httpx.Any
	}
	r, err := s.client.Get(ctx, req)
	if err != nil {
		var e *models.Error
		if s.o.Product.Quota && errors.As(err, &e) && e.Kind == models.KindRefused {
			limited := *e
			limited.Kind, limited.RetryAfter = models.KindRateLimited, blocked
			return nil, &limited
		}
		return nil, err
	}
	if !r.NotModified {
		s.bytes.Add(int64(len(r.Body)))
	}
	if s.o.Product.Quota && want == httpx.GRIB {
		head := bytes.TrimSpace(r.Body[:min(len(r.Body), 64)])
		switch {
		case bytes.HasPrefix(head, []byte("<")):
			return nil, enough(r)
		case !bytes.HasPrefix(r.Body, []byte("GRIB")):
			return nil, r.Bad(fmt.Errorf("the body is no GRIB: it begins %q", shorten(strings.ToValidUTF8(string(head), "?"))))
		}
	}
	return r, nil
}

// enough is the error of a web page in place of what was asked for.
func enough(r *httpx.Response) error {
	e := r.Fail(models.KindRateLimited, errors.New("a web page came in place of the data: the service has had enough requests"))
	e.RetryAfter = blocked
	return e
}

// inventory is what stands in one file, as the service has it listed.
type inventory struct {
	entries []Entry
	answer  *httpx.Response
}

func (s *Source) inventory(ctx context.Context, r run, lead int) (*inventory, error) {
	address := s.o.Product.inventoryAt(s.o.Product.address(s.spot, r.start, lead))
	answer, err := s.get(ctx, httpx.Request{URL: rebase(address, s.o.Base), Want: httpx.Text, MaxBytes: maxIndex})
	if err != nil {
		return nil, err
	}
	read := ParseInventory
	if s.o.Product.Index == LineIndex {
		read = ParseIndex
	}
	entries, err := read(answer.Body)
	if err != nil {
		return nil, answer.Bad(err)
	}
	return &inventory{entries, answer}, nil
}

// contents are the fields of one file that the product wants.
type contents struct {
	fields  []*grib2.Field
	fetched time.Time
	notes   []string
	// broken says that something that the file should hold could not be had,
	// so that it is worth another try later.
	broken bool
}

// indexed asks for the ranges of the fields that are wanted. The inventory
// may be nil. Where a message is not what the inventory says, the inventory
// may be of an older file: it is read once more.
func (s *Source) indexed(ctx context.Context, r run, lead int, inv *inventory) (contents, error) {
	if inv == nil {
		var err error
		if inv, err = s.inventory(ctx, r, lead); err != nil {
			return contents{}, err
		}
	}
	for reread := false; ; reread = true {
		chosen, lacking := choose(inv.entries, s.o.Product.Fields, r.start, lead)
		if len(chosen) == 0 {
			return contents{}, inv.answer.Bad(errors.New("the inventory lists none of the fields wanted"))
		}
		got, err := s.messages(ctx, r, lead, chosen, inv)
		if err != nil {
			return contents{}, err
		}
		if got.stale && !reread {
			again, err := s.inventory(ctx, r, lead)
			if err != nil && ends(ctx, err) {
				return contents{}, err
			}
			if err == nil && !bytes.Equal(again.answer.Body, inv.answer.Body) {
				inv = again
				continue
			}
		}
		if len(got.fields) == 0 {
			return contents{}, got.first
		}
		c := contents{fields: got.fields, fetched: inv.answer.FetchedAt, broken: got.first != nil}
		for _, f := range lacking {
			c.notes = append(c.notes, fmt.Sprintf("the model gives no %s at some hours (%s)", strings.ReplaceAll(f.As, "_", " "), f.Name))
		}
		c.notes = append(c.notes, got.notes...)
		return c, nil
	}
}

// messages is what the ranges of one file gave.
type messages struct {
	fields []*grib2.Field
	notes  []string
	first  error // the first failure
	// stale says that what came is not what the inventory says.
	stale bool
}

func (m *messages) fail(c choice, err error) {
	if m.first == nil {
		m.first = err
	}
	m.notes = append(m.notes, fmt.Sprintf("%s could not be read: %s", strings.ReplaceAll(c.field.As, "_", " "), reason(err)))
}

// messages gets the ranges of what was chosen. A range that fails costs its
// fields only; an error means that asking on is no use.
func (s *Source) messages(ctx context.Context, r run, lead int, chosen []choice, inv *inventory) (messages, error) {
	var m messages
	for _, b := range blocks(chosen) {
		answer, start, err := s.block(ctx, r, lead, b)
		if err != nil {
			if ends(ctx, err) {
				return m, err
			}
			m.stale = m.stale || doubtful(err)
			for _, c := range b.entries {
				m.fail(c, err)
			}
			continue
		}
		why := ""
		if old := inv.answer.LastModified; !old.IsZero() && answer.LastModified.After(old.Add(time.Minute)) {
			why = "; the inventory is older than the file"
		}
		for _, c := range b.entries {
			f, err := s.message(r, lead, c, answer.Body[min(c.Start-start, int64(len(answer.Body))):])
			if err != nil {
				m.stale = true
				m.fail(c, answer.Bad(fmt.Errorf("%w%s", err, why)))
				continue
			}
			m.fields = append(m.fields, f)
		}
	}
	return m, nil
}

// block gets one byte range, and tells where in the file it starts.
func (s *Source) block(ctx context.Context, r run, lead int, b block) (*httpx.Response, int64, error) {
	limit := int64(maxBlock)
	if b.end >= 0 {
		if limit = b.end - b.start + 1; limit > maxBlock {
			return nil, 0, &models.Error{Kind: models.KindTooLarge, Source: s.Name(), Err: fmt.Errorf("the inventory claims %d bytes in one piece", limit)}
		}
	}
	address := rebase(s.o.Product.address(s.spot, r.start, lead), s.o.Base)
	answer, err := s.get(ctx, httpx.Request{
		URL: address, Range: &httpx.Range{Start: b.start, End: b.end}, Want: httpx.GRIB, MaxBytes: limit,
		PerAttempt: time.Minute, Total: 2 * time.Minute,
	})
	if kind(err) == models.KindTooLarge && b.end >= 0 {
		return nil, 0, &models.Error{Kind: models.KindTooLarge, Source: s.Name(), URL: address,
			Err: fmt.Errorf("asked for %d bytes of the file and more came: something on the way ignores ranges", limit)}
	}
	if err != nil {
		return nil, 0, err
	}
	if answer.Status != http.StatusPartialContent {
		return nil, 0, answer.Bad(errors.New("asked for a part of the file and got the whole: something on the way ignores ranges"))
	}
	start, end, total, err := answer.ContentRange()
	if err != nil {
		return nil, 0, answer.Bad(err)
	}
	right := start == b.start && int64(len(answer.Body)) == end-start+1
	if b.end >= 0 {
		right = right && end == b.end
	} else {
		right = right && (total < 0 || end == total-1)
	}
	if !right {
		return nil, 0, answer.Bad(fmt.Errorf("asked for %s and got %d bytes said to be %q", httpx.Range{Start: b.start, End: b.end}, len(answer.Body), answer.Header.Get("Content-Range")))
	}
	return answer, start, nil
}

// message reads the field that was chosen out of its message, which has to
// begin the bytes, be as long as the inventory says, and be what it says.
func (s *Source) message(r run, lead int, c choice, b []byte) (*grib2.Field, error) {
	if len(b) < 16 || string(b[:4]) != "GRIB" {
		return nil, fmt.Errorf("no message begins at byte %d, where the inventory says", c.Start)
	}
	length := binary.BigEndian.Uint64(b[8:16])
	if want := c.End - c.Start + 1; b[7] != 2 || length > uint64(len(b)) || c.End >= 0 && length != uint64(want) {
		return nil, fmt.Errorf("the message at byte %d says it is edition %d and %d bytes long, the inventory %d bytes", c.Start, b[7], length, want)
	}
	fields, errs := grib2.Read(b[:length])
	for _, f := range fields {
		if c.field.is(f) && s.timely(c.field, f, r, lead) {
			return f, nil
		}
	}
	if len(errs) > 0 {
		return nil, errs[0]
	}
	if len(fields) == 0 {
		return nil, fmt.Errorf("the message at byte %d holds no field", c.Start)
	}
	f := fields[0]
	return nil, fmt.Errorf("the message at byte %d is %s (%d-%d-%d) of the run of %s for %s, not the %s wanted", c.Start,
		f.Name(), f.Discipline, f.Category, f.Number, f.Run.Format("2 Jan 15:04"), f.End.Format("2 Jan 15:04"), c.field.Name)
}

// whole reads a file that has no inventory.
func (s *Source) whole(ctx context.Context, r run, lead int) (contents, error) {
	address := rebase(s.o.Product.address(s.spot, r.start, lead), s.o.Base)
	answer, err := s.get(ctx, httpx.Request{URL: address, Want: httpx.GRIB, MaxBytes: maxWhole, PerAttempt: 5 * time.Minute, Total: 10 * time.Minute})
	if err != nil {
		return contents{}, err
	}
	all, errs := grib2.Read(answer.Body)
	c := contents{fetched: answer.FetchedAt, broken: len(errs) > 0}
	found := map[string]bool{}
	for _, f := range all {
		for _, want := range s.o.Product.Fields {
			if want.is(f) && s.timely(want, f, r, lead) {
				c.fields = append(c.fields, f)
				found[want.As] = true
			}
		}
	}
	if len(c.fields) == 0 {
		return contents{}, answer.Bad(errors.Join(append([]error{errors.New("the file holds none of the fields wanted")}, errs...)...))
	}
	for _, f := range s.o.Product.Fields {
		if !found[f.As] {
			c.notes = append(c.notes, fmt.Sprintf("the model gives no %s (%s)", strings.ReplaceAll(f.As, "_", " "), f.Name))
		}
	}
	if len(errs) > 0 {
		c.notes = append(c.notes, fmt.Sprintf("%d messages of a file could not be read: %v", len(errs), errs[0]))
	}
	return c, nil
}

// is tells whether a field is of the parameter, surface and kind.
func (want Field) is(f *grib2.Field) bool {
	if [3]int{f.Discipline, f.Category, f.Number} != want.Numbers {
		return false
	}
	if want.Surface != nil && f.Surface1.Type != *want.Surface {
		return false
	}
	if want.SurfaceValue != nil && (f.Surface1.Missing || f.Surface1.Value != *want.SurfaceValue) {
		return false
	}
	switch want.Kind {
	case Maximum:
		return f.Template == 8 && f.Process == grib2.Maximum
	case Chance:
		// Of more than a limit; or a parameter that is a chance by itself.
		if f.Probability == nil {
			return f.Template == 0 || f.Template == 8
		}
		return f.Probability.Type == 1 || f.Probability.Type == 3
	}
	return f.Template == 0
}

// timely tells whether a field is of the run and for the lead, or one of the
// hours that the file is for.
func (s *Source) timely(want Field, f *grib2.Field, r run, lead int) bool {
	if !f.Run.Equal(r.start) || f.Start.IsZero() || f.End.Sub(f.Start) > longestWindow {
		return false
	}
	last := r.start.Add(time.Duration(lead) * time.Hour)
	if hours := s.o.Product.HoursInFile; hours > 0 {
		return want.Kind == Sharp && !f.Start.After(last) && f.Start.After(last.Add(-time.Duration(hours)*time.Hour))
	}
	return f.End.Equal(last)
}

// listed finds the starts of runs in the listings of the days that are young
// enough. Of a day that is not listed there are none.
func (s *Source) listed(ctx context.Context, now time.Time) ([]time.Time, error) {
	var starts []time.Time
	var missing error
	answered := false
	for day := now.Truncate(24 * time.Hour); day.Add(24 * time.Hour).After(now.Add(-time.Duration(s.o.Product.LookBack))); day = day.AddDate(0, 0, -1) {
		answer, err := s.get(ctx, httpx.Request{URL: rebase(s.o.Product.folder(s.spot, day), s.o.Base), MaxBytes: maxListing, Conditional: true})
		if err != nil {
			if !absent(err) {
				return nil, err
			}
			missing = err
			continue
		}
		names, err := ParseListing(answer.Body)
		if errors.Is(err, errNoLinks) {
			return nil, enough(answer)
		}
		if err != nil {
			return nil, answer.Bad(err)
		}
		answered = true
		starts = append(starts, startsIn(names, day)...)
	}
	if !answered {
		return nil, missing
	}
	slices.SortFunc(starts, func(a, b time.Time) int { return b.Compare(a) })
	return starts, nil
}
