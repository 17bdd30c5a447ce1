package gridded

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/fetch/httpx"
)

// Sizes that no honest answer passes.
const (
	maxIndex = 4 << 20
	maxBlock = 64 << 20
	maxWhole = 128 << 20
)

// indexed reads a file's inventory and asks for the ranges of the fields that
// are wanted.
func (s *Source) indexed(ctx context.Context, address string, run time.Time, lead int) ([]*grib2.Field, []string, time.Time, error) {
	idx, err := s.client.Get(ctx, httpx.Request{Source: s.Name(), URL: address + ".idx", Want: httpx.Text, MaxBytes: maxIndex})
	if err != nil {
		return nil, nil, time.Time{}, err
	}
	entries, err := ParseInventory(idx.Body)
	if err != nil {
		return nil, nil, time.Time{}, idx.Bad(err)
	}
	wanted, notes := s.choose(entries, run, lead)
	if len(wanted) == 0 {
		return nil, nil, time.Time{}, idx.Bad(errors.New("the inventory lists none of the fields wanted"))
	}
	var fields []*grib2.Field
	for _, b := range blocks(wanted) {
		got, err := s.block(ctx, address, b, idx.LastModified)
		if err != nil {
			return nil, nil, time.Time{}, err
		}
		fields = append(fields, got...)
	}
	fields, more := s.verify(fields, run, lead)
	if len(fields) == 0 {
		return nil, nil, time.Time{}, idx.Bad(errors.New("the bytes that the inventory points to hold none of the fields wanted: it is stale"))
	}
	return fields, append(notes, more...), idx.FetchedAt, nil
}

// choose picks the entries of the wanted fields at the wanted lead.
func (s *Source) choose(entries []Entry, run time.Time, lead int) ([]Entry, []string) {
	var wanted []Entry
	var notes []string
	found := map[string]bool{}
	for _, e := range entries {
		at, ok := instant(e.Window)
		if !ok || at != time.Duration(lead)*time.Hour || !e.Run.Equal(run) {
			continue
		}
		for _, f := range s.o.Product.Fields {
			if f.Name == e.Name && f.Level == e.Level && !found[f.As] {
				found[f.As] = true
				wanted = append(wanted, e)
			}
		}
	}
	for _, f := range s.o.Product.Fields {
		if !found[f.As] {
			notes = append(notes, fmt.Sprintf("the model gives no %s (%s)", f.As, f.Name))
		}
	}
	return wanted, notes
}

// block gets one byte range and describes the fields in it.
func (s *Source) block(ctx context.Context, address string, b block, index time.Time) ([]*grib2.Field, error) {
	r, err := s.client.Get(ctx, httpx.Request{Source: s.Name(), URL: address, Range: &httpx.Range{Start: b.start, End: b.end}, Want: httpx.GRIB, MaxBytes: maxBlock})
	if err != nil {
		return nil, err
	}
	if r.Status != http.StatusPartialContent {
		return nil, r.Bad(errors.New("asked for a part of the file and got the whole: something on the way ignores ranges"))
	}
	start, end, _, err := r.ContentRange()
	if err != nil {
		return nil, r.Bad(err)
	}
	if start != b.start || b.end >= 0 && end != b.end || int64(len(r.Body)) != end-start+1 {
		return nil, r.Bad(fmt.Errorf("asked for bytes %d to %d and got %d to %d in %d bytes", b.start, b.end, start, end, len(r.Body)))
	}
	if !index.IsZero() && !r.LastModified.IsZero() && r.LastModified.After(index.Add(time.Minute)) {
		return nil, r.Bad(errors.New("the inventory is older than the file it describes"))
	}
	fields, errs := grib2.Read(r.Body)
	for _, e := range b.entries {
		length := e.End - e.Start + 1
		if e.End < 0 {
			length = end - e.Start + 1
		}
		if from := e.Start - b.start; from < 0 || from+4 > int64(len(r.Body)) || string(r.Body[from:from+4]) != "GRIB" || length < 16 {
			return nil, r.Bad(fmt.Errorf("no message begins at byte %d, where the inventory says: it is stale", e.Start))
		}
	}
	if len(fields) == 0 && len(errs) > 0 {
		return nil, r.Bad(errors.Join(errs...))
	}
	return fields, nil
}

// whole reads a file that has no inventory.
func (s *Source) whole(ctx context.Context, address string, run time.Time, lead int) ([]*grib2.Field, []string, time.Time, error) {
	r, err := s.client.Get(ctx, httpx.Request{Source: s.Name(), URL: address, Want: httpx.GRIB, MaxBytes: maxWhole, PerAttempt: 5 * time.Minute, Total: 10 * time.Minute})
	if err != nil {
		return nil, nil, time.Time{}, err
	}
	all, errs := grib2.Read(r.Body)
	fields, notes := s.verify(all, run, lead)
	if len(fields) == 0 {
		return nil, nil, time.Time{}, r.Bad(errors.Join(append([]error{errors.New("the file holds none of the fields wanted")}, errs...)...))
	}
	for _, e := range errs {
		notes = append(notes, e.Error())
	}
	return fields, notes, r.FetchedAt, nil
}

// verify keeps the fields that are what was asked for, by their own sections:
// parameter, surface, run and time.
func (s *Source) verify(fields []*grib2.Field, run time.Time, lead int) ([]*grib2.Field, []string) {
	last := run.Add(time.Duration(lead) * time.Hour)
	first := run.Add(time.Duration(lead-max(s.o.Product.HoursInFile-1, 0)) * time.Hour)
	var kept []*grib2.Field
	for _, f := range fields {
		if _, ok := s.o.Product.field(f); ok && f.Run.Equal(run) && f.Process == grib2.Instant && !f.Start.Before(first) && !f.Start.After(last) {
			kept = append(kept, f)
		}
	}
	return kept, nil
}

// field tells which of the product's fields f is.
func (p Product) field(f *grib2.Field) (Field, bool) {
	for _, want := range p.Fields {
		if f.Discipline == want.Numbers[0] && f.Category == want.Numbers[1] && f.Number == want.Numbers[2] &&
			f.Surface1.Type == want.Surface && (f.Surface1.Missing || f.Surface1.Value == want.SurfaceValue || want.SurfaceValue == 0) {
			return want, true
		}
	}
	return Field{}, false
}

func rebase(address, base string) string {
	if base == "" {
		return address
	}
	u, err := url.Parse(address)
	if err != nil {
		return address
	}
	return base + u.RequestURI()
}
