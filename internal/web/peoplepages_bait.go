package web

import (
	"fmt"
	"strconv"
	"strings"

	"forecastd/internal/models"
	"forecastd/internal/web/door"
)

// baitData is what the page of the pens shows.
type baitData struct {
	Wrong []problem
	// Counted tells when the pen was counted; empty where nobody did.
	Counted string
	Lots    []lotData
	New     fillIn
	Plans   []baitPlan
}

type lotData struct {
	Kind, Source, Since string
	Count               int
	Form                fillIn
}

// baitPlan is what a trip wants of bait.
type baitPlan struct {
	Head                   string
	Needed, InPen, Short   string
	Nights                 []string
	LastGood               string
	Notes                  []string
	Enough, NothingToCatch bool
}

func baitSources() []string {
	return []string{string(models.BaitHooked), string(models.BaitNetted), string(models.BaitSeasoned), string(models.BaitBought)}
}

func (s *Server) baitPage(v *view, f *form) (page, error) {
	held, err := s.o.Desk.Pen(v.Request.Context(), v.Port)
	if err != nil {
		return page{}, fmt.Errorf("ask what the pen holds: %w", err)
	}
	d := baitData{Wrong: f.problems()}
	t := v.Tell(v.today())
	to := v.Link("/bait")
	if pen, ok := held.Get(); ok {
		d.Counted = t.Time(pen.Counted)
		for _, stock := range pen.Stock {
			lot := lotData{Kind: v.word(stock.Kind), Source: v.T("bait.source." + string(stock.Source)), Count: stock.Count}
			if day, ok := stock.Caught.Get(); ok {
				lot.Since = t.Day(day)
			}
			steps := []press{}
			for _, by := range []int{-10, -1, 1, 10} {
				steps = append(steps, press{Name: "step", Value: strconv.Itoa(by), Words: strings.Replace(fmt.Sprintf("%+d", by), "-", "−", 1), Aria: v.T("bait.step", fmt.Sprintf("%+d", by), lot.Kind)})
			}
			lot.Form = v.fill(f, fillIn{
				Name: formName("lot", stock.Kind+"\n"+string(stock.Source)), Action: to, Presses: steps,
				Hidden: []option{{Value: "kind", Words: stock.Kind}, {Value: "source", Words: string(stock.Source)}},
				Fields: []field{{Name: "count", Label: v.T("bait.count.of", lot.Kind), Type: "text", Mode: "numeric", Value: strconv.Itoa(stock.Count)}},
			})
			d.Lots = append(d.Lots, lot)
		}
	}
	source := v.pick("source", "bait.source", "bait.source.", baitSources()...)
	source.Value = string(models.BaitHooked)
	kind := field{Name: "kind", Label: v.T("bait.kind")}
	for _, k := range models.BaitKinds() {
		kind.Options = append(kind.Options, option{Value: k.Name, Words: v.word(k.Name)})
	}
	d.New = v.fill(f, fillIn{Name: "new", Action: to, Fields: []field{
		kind,
		{Name: "count", Label: v.T("bait.count"), Type: "text", Mode: "numeric", Required: true},
		source,
	}})
	board, err := v.Board()
	if err != nil {
		return page{}, err
	}
	for _, day := range board.Days {
		for _, trip := range day.Trips {
			if plan, ok := trip.Call.Bait.Get(); ok {
				d.Plans = append(d.Plans, v.baitPlan(day.Date, plan))
			}
		}
	}
	return page{Name: "bait", Title: "title.bait", Data: d}, nil
}

// baitPlan tells what a trip wants.
func (v *view) baitPlan(date models.Date, plan models.BaitPlan) baitPlan {
	t := v.Tell(date)
	count := func(n models.Opt[models.BaitCount]) string {
		if n, ok := n.Get(); ok {
			return v.T("bait.both", n.Hardy, n.Delicate)
		}
		return v.T("people.unknown")
	}
	p := baitPlan{Head: t.Day(date), Needed: count(plan.Needed), InPen: count(plan.InPen), Short: count(plan.Short)}
	if short, ok := plan.Short.Get(); ok {
		p.Enough = short.Total() == 0
	}
	for _, n := range plan.Nights {
		if !n.Before(date) { // too late for this trip
			continue
		}
		p.Nights = append(p.Nights, t.Day(n))
	}
	if last, ok := plan.LastGood.Get(); ok && last.Before(date) {
		p.LastGood = t.Day(last)
	}
	for _, n := range plan.Notes {
		p.Notes = append(p.Notes, t.Say(n))
	}
	return p
}

// countBait keeps a count. A step is put to the count that the page showed.
func (s *Server) countBait(v *view, f *form) (done, error) {
	kind := v.needed(f, "kind", "bait.kind.needed")
	if len(kind) > 60 || strings.ContainsFunc(kind, door.Odd) {
		f.refuse("kind", v.T("bait.kind.odd"))
	}
	source := v.oneOf(f, "source", baitSources()...)
	count := v.whole(f, "count", 0, models.MostBait)
	if f.get("count") == "" {
		f.refuse("count", v.T("bait.count.needed"))
	}
	n := count.Or(0)
	if f.get("step") != "" {
		n += v.whole(f, "step", -10, 10).Or(0)
	}
	if err := f.unfilled(); err != nil {
		return done{}, err
	}
	n = min(max(n, 0), models.MostBait)
	sentence, err := s.o.Hand.CountBait(v.Request.Context(), v.Port, kind, n, models.BaitSource(source), v.Role)
	return v.answered(f, sentence, err, "/bait")
}
