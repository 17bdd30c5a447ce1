package web

import "forecastd/internal/words"

// spreadData is what the page of the spread is filled with.
type spreadData struct {
	Long  string
	Trips []spreadTrip
}

// spreadTrip is the spread of one trip.
type spreadTrip struct {
	N, Of                              int
	Head                               string
	SideWide, SideNarrow, Top, TopWide figure
	Card, Load                         part
	// None tells that nothing is flown.
	None bool
}

// spreadPage draws the spread.
func spreadPage(v *view) (page, error) {
	_, d, err := v.dayAsked()
	if err != nil {
		return page{}, err
	}
	data := spreadData{}
	if len(d.Trips) > 0 {
		data.Long = v.Tell(d.Date).LongDay(d.Date)
	}
	for i, trip := range d.Trips {
		c := trip.Call
		data.Trips = append(data.Trips, spreadTrip{
			N: i + 1, Of: len(d.Trips), None: !c.Spread.Known(),
			Head:     v.tripHead(c),
			SideWide: v.spreadSide(c, i, false), SideNarrow: v.spreadSide(c, i, true),
			TopWide: v.spreadTop(c, i, false), Top: v.spreadTop(c, i, true),
			Card: v.partOf(c, words.PartSpread), Load: v.partOf(c, words.PartLoad).of(i),
		})
	}
	return page{Name: "spread", Title: "title.spread", Data: data}, nil
}
