package web

import (
	"forecastd/internal/models"
	"forecastd/internal/words"
)

// printData is what the sheet for the wheelhouse is filled with.
type printData struct {
	Long     string
	Warnings warningsData
	Sheets   []sheet
}

// sheet is one trip on one page of paper: in two columns below the lanes.
type sheet struct {
	Trip        tripData
	Boat, Made  string
	Hours       *words.Table
	Side        figure
	Left, Right []part
	// Foot stands below both columns.
	Foot []part
}

// printPage is a one-page sheet for the wheelhouse, for each trip of a day.
func printPage(v *view) (page, error) {
	b, d, err := v.dayAsked()
	if err != nil {
		return page{}, err
	}
	data := printData{Warnings: v.warnings(b, d)}
	if len(d.Trips) > 0 {
		data.Long = v.Tell(d.Date).LongDay(d.Date)
		v.Stamps = first(d)
	}
	for i, trip := range d.Trips {
		c := trip.Call
		t := v.Tell(c.Date)
		made := models.DateOf(c.Made, zoneOf(b))
		s := sheet{
			Trip: v.trip(d, i), Boat: c.Boat.Name + ", " + c.Port.Name + ", " + c.Ground.Name, Side: v.spreadSide(c, i, true),
			Made: v.T("print.made", v.Tell(made).ShortDay(made), clockOf(b, c.Made)),
			Left: v.partsOf(c, words.PartReasons, words.PartDrift, words.PartWater), Right: v.partsOf(c, words.PartSpread), Foot: v.partsOf(c, words.PartCautions),
		}
		s.Trip.Lanes.Wide, s.Trip.Lanes.Narrow = v.lanes(c, i, false), v.lanes(c, i, true)
		for _, x := range t.Part(words.PartHours, c, v.Now) {
			s.Hours = x.Table
			v.nameColumns(s.Hours)
		}
		data.Sheets = append(data.Sheets, s)
	}
	return page{Name: "print", Title: "title.print", Data: data}, nil
}

// partsOf tells several parts of a call, without those that have nothing to
// tell.
func (v *view) partsOf(c models.Call, kinds ...words.Part) []part {
	var list []part
	for _, kind := range kinds {
		if p := v.partOf(c, kind); len(p.Sections) > 0 {
			list = append(list, p)
		}
	}
	return list
}
