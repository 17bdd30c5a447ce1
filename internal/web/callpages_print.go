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

// sheet is one trip on one page of paper.
type sheet struct {
	Trip       tripData
	Boat, Made string
	Hours      *words.Table
	Side       figure
	Spread     part
	// Parts are the drift, the water and the cautions.
	Parts []part
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
		s := sheet{
			Trip: v.trip(d, i), Boat: c.Boat.Name + ", " + c.Port.Name + ", " + c.Ground.Name,
			Made:   v.T("print.made", v.Tell(models.DateOf(c.Made, zoneOf(b))).ShortDay(models.DateOf(c.Made, zoneOf(b))), clockOf(b, c.Made)),
			Side:   v.spreadSide(c, i, true),
			Spread: v.partOf(c, words.PartSpread),
		}
		for _, kind := range []words.Part{words.PartDrift, words.PartWater, words.PartCautions} {
			if p := v.partOf(c, kind); len(p.Sections) > 0 {
				s.Parts = append(s.Parts, p)
			}
		}
		for _, x := range t.Part(words.PartHours, c, v.Now) {
			s.Hours = x.Table
			v.nameColumns(s.Hours)
		}
		data.Sheets = append(data.Sheets, s)
	}
	return page{Name: "print", Title: "title.print", Data: data}, nil
}
