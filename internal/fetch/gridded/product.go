// Package gridded fetches gridded models: it finds the latest complete run of
// a product, reads its inventory, asks for the byte ranges of the fields that
// matter and answers with a series for each ground.
//
// What the products are (addresses, cycles, hours, fields) is a table in
// products.json, not code.
//
// # Which run
//
// The run that reaches furthest into the hours wanted is taken, and of equals
// the newest. Whether it has come out is asked by the inventory of its last
// hour, which is written last; where that is not there the next run is asked
// for. An hour that fails is left out and told. A run that gives half of its
// hours or fewer is set aside for the next one, and of those read the one that
// gives most hours is used, whole: runs are never mixed. What has been read of
// a run is kept and not fetched again; only what failed is.
//
// # What is believed
//
// Nothing but what the messages themselves say. A range has to come as 206 with
// the very bytes asked for; each message in it has to begin and end where the
// inventory says, and be of the parameter, surface, run and time wanted. Where
// one is not, the inventory is read once more, and if it has not changed the
// field is left out. Values out of their range, and seas that stand alone far
// above the water or the hours around, are left out and counted.
//
// # What it costs
//
// A file costs its inventory and one request for each stretch of fields; ten
// days of GFS-Wave are 80 files, 320 requests and 27.5 MB (measured on the real
// file of 2023-08-23). Measured single messages: 2.4 MB for a wind component of
// HRRR, 1.5 MB for a field of NBM, 0.8 MB for the wave height of ECMWF. NWPS and
// RTOFS have no inventory and are read whole.
package gridded

import (
	"bytes"
	_ "embed" // the table of products
	"encoding/json"
	"errors"
	"fmt"
	"slices"
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
	// URL is the address of one file, with {date}, {hh}, {lead}, {lead2},
	// {lead3}, {area}, {region} and {office} to fill in. The inventory's is
	// made of it.
	URL string `json:"url"`
	// Listing is the address of a folder whose subfolders are the hours at
	// which runs of a day started; empty where Cycles tell.
	Listing string `json:"listing"`
	// Index is the kind of inventory beside each file.
	Index IndexKind `json:"index"`
	// Quota says that the service counts requests, and answers who asks too
	// often with a redirect, a refusal or a web page.
	Quota bool `json:"quota"`
	// Cycles are the hours UTC at which runs start.
	Cycles []int `json:"cycles"`
	// ReadyAfter is how long after its start a run has usually come out
	// whole; LookBack is how old a run may be and still serve.
	ReadyAfter span `json:"ready_after"`
	LookBack   span `json:"look_back"`
	// LookAgain is how soon it is worth to look again for a run that is late,
	// and for any where only the listing tells which there are.
	LookAgain span `json:"look_again"`
	// Leads are the forecast hours of the files.
	Leads []Leads `json:"leads"`
	// HoursInFile is how many hourly leads one file holds, up to and
	// including the lead in its name; 0 means only that one.
	HoursInFile int `json:"hours_in_file"`
	// Areas are the pieces of the world that the product comes in, best
	// first; none means that it covers the globe in one.
	Areas []Area `json:"areas"`
	// Regions are the offices that make the product, by the name of their
	// region in the address.
	Regions map[string][]string `json:"regions"`
	// SeaIncludesCurrent says that the product's seas hold what currents do
	// to them; null where that is not known.
	SeaIncludesCurrent models.Opt[bool] `json:"sea_includes_current"`
	// Credit is what the licence of the data asks to be said with it.
	Credit string `json:"credit"`
	// Note is what to tell of every answer.
	Note   string  `json:"note"`
	Fields []Field `json:"fields"`
}

// IndexKind is a kind of inventory.
type IndexKind string

// Kinds of inventory.
const (
	ShortInventory IndexKind = "idx"   // ParseInventory; the address with .idx behind it
	LineIndex      IndexKind = "ecmwf" // ParseIndex; the address with .index for .grib2
	NoIndex        IndexKind = "none"  // the file is read whole
)

// Leads is a sequence of forecast hours, for the runs that start at Cycles, or
// for all.
type Leads struct {
	Cycles []int `json:"cycles"`
	From   int   `json:"from"`
	To     int   `json:"to"`
	Step   int   `json:"step"`
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
	// As is the name in readHours.
	As string `json:"as"`
	// Name and Level are the inventory's.
	Name  string `json:"name"`
	Level string `json:"level"`
	// Kind is Sharp where it is left out.
	Kind Kind `json:"kind"`
	// Numbers are discipline, category and number.
	Numbers [3]int `json:"numbers"`
	// Surface and SurfaceValue are those of the first surface; any will do
	// where they are left out.
	Surface      *int     `json:"surface"`
	SurfaceValue *float64 `json:"surface_value"`
}

// Kind is what a field's values are.
type Kind string

// Kinds of field.
const (
	Sharp   Kind = ""        // the value at one instant, of the one forecast
	Maximum Kind = "maximum" // the highest of a time that ends at the lead
	Chance  Kind = "chance"  // a probability in percent, for a time that ends at the lead or at the lead itself
)

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
	at := places[0]
	for _, g := range places {
		if !slices.ContainsFunc(p.Areas, func(a Area) bool { return a.holds(g.At) }) {
			at = g
		}
	}
	return "", fmt.Errorf("%s does not cover %s", p.Name, at.At)
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

// region finds the region of an office, as the address writes both.
func (p Product) region(office string) (region, name string, err error) {
	if len(p.Regions) == 0 {
		return "", "", nil
	}
	if office == "" {
		return "", "", errors.New("no local office is configured, and each makes its own: set the port's text_office")
	}
	name = strings.ToLower(office)
	for region, offices := range p.Regions {
		if slices.Contains(offices, name) {
			return region, name, nil
		}
	}
	return "", "", fmt.Errorf("no office %s is known to make %s", office, p.Name)
}
