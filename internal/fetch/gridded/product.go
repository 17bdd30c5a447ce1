// Package gridded fetches gridded models: it finds the latest complete run of
// a product, reads its inventory, asks for the byte ranges of the fields that
// matter and answers with a series for each ground.
//
// What the products are (addresses, cycles, hours, fields) is a table in
// products.json, not code.
package gridded

import (
	"bytes"
	_ "embed" // the table of products
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

//go:embed products.json
var table []byte

// Product is one gridded model, as the table describes it.
type Product struct {
	Name  string `json:"name"`
	About string `json:"about"`
	// URL is the address of one file, with {date}, {hh}, {lead2}, {lead3}
	// and {area} to fill in.
	URL string `json:"url"`
	// Index is the kind of inventory beside each file: "idx" or "none".
	Index string `json:"index"`
	// Cycles are the hours UTC at which runs start.
	Cycles []int `json:"cycles"`
	// ReadyAfter is how long after its start a run has usually come out
	// whole; LookBack is how old a run may be and still serve.
	ReadyAfter span `json:"ready_after"`
	LookBack   span `json:"look_back"`
	// Leads are the forecast hours of the files.
	Leads []Leads `json:"leads"`
	// HoursInFile is how many hourly leads one file holds, up to and
	// including the lead in its name; 0 means only that one.
	HoursInFile int `json:"hours_in_file"`
	// Areas are the pieces of the world that the product comes in, best
	// first; none means that it covers the globe in one.
	Areas []Area `json:"areas"`
	// SeaIncludesCurrent says that the product's seas hold what currents do
	// to them; null where that is not known.
	SeaIncludesCurrent models.Opt[bool] `json:"sea_includes_current"`
	Fields             []Field          `json:"fields"`
}

// Leads is a run of forecast hours.
type Leads struct {
	From int `json:"from"`
	To   int `json:"to"`
	Step int `json:"step"`
}

// Area is a piece of the world, longitudes east of Greenwich from 0 to 360.
type Area struct {
	Name  string  `json:"name"`
	South float64 `json:"south"`
	North float64 `json:"north"`
	West  float64 `json:"west"`
	East  float64 `json:"east"`
}

// Field is one field of a product and what it is to us.
type Field struct {
	As    string `json:"as"`
	Name  string `json:"name"`
	Level string `json:"level"`
	// Numbers are discipline, category and number.
	Numbers      [3]int  `json:"numbers"`
	Surface      int     `json:"surface"`
	SurfaceValue float64 `json:"surface_value"`
}

type span time.Duration

func (s *span) UnmarshalText(b []byte) error {
	d, err := time.ParseDuration(string(b))
	*s = span(d)
	return err
}

// Products reads the table.
func Products() ([]Product, error) {
	d := json.NewDecoder(bytes.NewReader(table))
	d.DisallowUnknownFields()
	var list []Product
	if err := d.Decode(&list); err != nil {
		return nil, fmt.Errorf("read the table of products: %w", err)
	}
	return list, nil
}

// Lookup finds a product by name.
func Lookup(name string) (Product, error) {
	list, err := Products()
	if err != nil {
		return Product{}, err
	}
	var names []string
	for _, p := range list {
		if p.Name == name {
			return p, nil
		}
		names = append(names, p.Name)
	}
	return Product{}, fmt.Errorf("there is no gridded product %q: use one of %s", name, strings.Join(names, ", "))
}

// area picks the first piece that holds all places.
func (p Product) area(places []Place) (string, error) {
	if len(p.Areas) == 0 {
		return "", nil
	}
	for _, a := range p.Areas {
		if !slices.ContainsFunc(places, func(g Place) bool { return !a.holds(g.At) }) {
			return a.Name, nil
		}
	}
	return "", fmt.Errorf("%s does not cover %s", p.Name, places[0].At)
}

func (a Area) holds(p models.Position) bool {
	lon := p.Lon
	for lon < 0 {
		lon += 360
	}
	for lon >= 360 {
		lon -= 360
	}
	return p.Lat >= a.South && p.Lat <= a.North && lon >= a.West && lon <= a.East
}

// leads lists the leads of the files that cover an interval.
func (p Product) leads(run time.Time, want models.Interval) []int {
	var list []int
	for _, l := range p.Leads {
		for h := l.From; h <= l.To; h += l.Step {
			first := run.Add(time.Duration(h-max(p.HoursInFile-1, 0)) * time.Hour)
			last := run.Add(time.Duration(h) * time.Hour)
			// One file before and one behind, so that the hours between can
			// be joined.
			margin := time.Duration(l.Step) * time.Hour
			if last.After(want.Start.Add(-margin)) && first.Before(want.End.Add(margin)) {
				list = append(list, h)
			}
		}
	}
	return list
}

// runs lists the starts of runs that may serve at a time, newest first.
func (p Product) runs(now time.Time) []time.Time {
	var list []time.Time
	newest := now.Add(-time.Duration(p.ReadyAfter))
	for t := now.Truncate(time.Hour); t.After(now.Add(-time.Duration(p.LookBack))); t = t.Add(-time.Hour) {
		if slices.Contains(p.Cycles, t.Hour()) && !t.After(newest) {
			list = append(list, t)
		}
	}
	return list
}

// address is where one file stands.
func (p Product) address(run time.Time, lead int, area string) string {
	return strings.NewReplacer(
		"{date}", run.Format("20060102"), "{hh}", run.Format("15"), "{area}", area,
		"{lead2}", pad(lead, 2), "{lead3}", pad(lead, 3),
	).Replace(p.URL)
}

func pad(n, width int) string {
	s := strconv.Itoa(n)
	return strings.Repeat("0", max(width-len(s), 0)) + s
}
