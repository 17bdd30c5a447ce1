package bookings

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"forecastd/internal/models"
)

// ReadCSV reads a CSV file of bookings. The error is for a file that is none;
// rows that can't be read are told among the problems.
func ReadCSV(b []byte, o Options) (Result, error) {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	if !utf8.Valid(b) {
		line := 1 + bytes.Count(b[:firstInvalid(b)], []byte("\n"))
		return Result{}, fmt.Errorf("line %d: this is not UTF-8: save the file as \"CSV UTF-8\"", line)
	}
	rd := csv.NewReader(bytes.NewReader(b))
	rd.Comma = separator(b)
	rd.FieldsPerRecord = -1
	rd.TrimLeadingSpace = rd.Comma != '\t' // an empty field between tabs is no space
	head, err := rd.Read()
	if errors.Is(err, io.EOF) {
		return Result{}, errors.New("the file is empty: the first row must name the columns")
	}
	if err != nil {
		return Result{}, rowError(err)
	}
	var r Result
	for i, h := range head {
		head[i] = heading(h)
		if head[i] != "" && !slices.Contains(columns(), head[i]) {
			r.problem("line 1", "there is no column %q: known are %s", h, strings.Join(columns(), ", "))
		}
		if head[i] != "" && slices.Index(head[:i], head[i]) >= 0 {
			return Result{}, fmt.Errorf("line 1: the column %q comes twice", h)
		}
	}
	for _, needed := range []string{"date", "name"} {
		if !slices.Contains(head, needed) {
			return Result{}, fmt.Errorf("line 1: there is no column %q: the first row must name the columns, at least date and name", needed)
		}
	}
	var where []string // of each booking
	for rows := 0; ; rows++ {
		row, err := rd.Read()
		if errors.Is(err, io.EOF) {
			return finish(r, where, o)
		}
		if err != nil {
			return Result{}, rowError(err)
		}
		line, _ := rd.FieldPos(0)
		at := fmt.Sprintf("line %d", line)
		if rows >= o.Most {
			return Result{}, fmt.Errorf("%s: there are over %d rows (charters.most_bookings): take out those that are long past", at, o.Most)
		}
		if strings.Join(row, "") == "" {
			continue
		}
		booking, problems, err := readRow(head, row, o)
		for _, p := range problems {
			r.problem(at, "%v", p)
		}
		if err != nil {
			r.problem(at, "%v; the row is left out", err)
			if booking.Cancelled {
				r.Partial = true // it wants no day
				continue
			}
			r.hold(dayOf(head, row))
			continue
		}
		where = append(where, at)
		r.Bookings = append(r.Bookings, booking)
	}
}

// dayOf is the day of a row of which something else could not be read.
func dayOf(head, row []string) models.Opt[models.Date] {
	if i := slices.Index(head, "date"); i >= 0 && i < len(row) {
		if d, err := readDate(models.PlainLine(row[i])); err == nil {
			return models.Known(d)
		}
	}
	return models.Unknown[models.Date]()
}

// readRow reads one booking. Problems leave a field as usual; an error leaves
// the row out.
func readRow(head, row []string, o Options) (b models.Booking, problems []error, err error) {
	b = blank(o)
	for i, value := range row {
		if value = models.PlainLine(value); value == "" {
			continue
		}
		if i >= len(head) {
			return b, nil, fmt.Errorf("there are %d fields for %d columns", len(row), len(head))
		}
		switch head[i] {
		case "id":
			b.ID = value
		case "date":
			if b.Date, err = readDate(value); err != nil {
				return b, problems, err
			}
		case "name":
			b.Name = value
		case "start":
			if b.Trip.Start, err = readClock(value); err != nil {
				return b, problems, err
			}
		case "end":
			if b.Trip.End, err = readClock(value); err != nil {
				return b, problems, err
			}
		default:
			if _, err := fill(&b, head[i], value, o); err != nil {
				problems = append(problems, err)
			}
		}
	}
	switch {
	case b.Date == models.Date{}:
		return b, problems, errors.New("the row has no date")
	case b.Name == "":
		return b, problems, errors.New("the row has no name")
	}
	if b.ID == "" {
		b.ID = b.Date.String() + " " + strings.ToLower(strings.Join(strings.Fields(b.Name), " "))
	}
	return b, problems, checkHours(b.Trip)
}

// separator is the likeliest of the first row, quoted text aside.
func separator(b []byte) rune {
	first, _, _ := bytes.Cut(b, []byte("\n"))
	best, most := ',', 0
	for _, c := range []rune{',', ';', '\t'} {
		n, quoted := 0, false
		for _, x := range string(first) {
			switch {
			case x == '"':
				quoted = !quoted
			case x == c && !quoted:
				n++
			}
		}
		if n > most {
			best, most = c, n
		}
	}
	return best
}

var twoWays = regexp.MustCompile(`^\d{1,2}[/.-]\d{1,2}[/.-]\d{2,4}$`)

// readDate reads 2027-01-19. Dates with slashes are refused: 3/4/2027 is in
// March for some and in April for others.
func readDate(s string) (models.Date, error) {
	if twoWays.MatchString(s) {
		return models.Date{}, fmt.Errorf("the date %q can be read in two ways: write it as 2027-01-19, year first", s)
	}
	return models.ParseDate(s)
}

// readClock reads 07:30, 7:30, 07:30:00 and 7:30 AM.
func readClock(s string) (models.Clock, error) {
	for _, form := range []string{"15:04", "15:04:05", "3:04 PM", "3:04PM", "3:04:05 PM"} {
		if t, err := time.Parse(form, strings.ToUpper(s)); err == nil {
			return models.Clock{Hour: t.Hour(), Minute: t.Minute()}, nil
		}
	}
	return models.Clock{}, fmt.Errorf("%q is no time of day: write it as 07:30", s)
}

func rowError(err error) error {
	if e, ok := errors.AsType[*csv.ParseError](err); ok {
		return fmt.Errorf("line %d: %w", e.StartLine, e.Err)
	}
	return fmt.Errorf("read the rows: %w", err)
}

func firstInvalid(b []byte) int {
	for i := 0; i < len(b); {
		r, n := utf8.DecodeRune(b[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return len(b)
}
