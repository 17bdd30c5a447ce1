package web

import (
	"fmt"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

// reportsData is what the page of reports shows.
type reportsData struct {
	Wrong                            []problem
	Fish, Shower, Edge, Looks, Inlet fillIn
	Said                             []saidLine
}

// saidLine is one thing that was reported.
type saidLine struct{ What, By, At, Until string }

func (s *Server) reportsPage(v *view, f *form) (page, error) {
	said, err := s.o.Desk.Reported(v.Request.Context(), v.Port)
	if err != nil {
		return page{}, fmt.Errorf("ask what was reported: %w", err)
	}
	d := reportsData{Wrong: f.problems()}
	t := v.Tell(v.today())
	for _, one := range said {
		d.Said = append(d.Said, saidLine{What: t.Say(one.What), By: v.say("role.", one.By), At: t.Time(one.At), Until: t.Time(one.Until)})
	}
	presses := func(name string, values ...string) []press {
		var list []press
		for _, value := range values {
			list = append(list, press{Name: "say", Value: value, Words: v.T("report." + name + "." + value)})
		}
		return list
	}
	to := v.Link("/reports")
	unit := v.depthUnit()
	d.Fish = v.fill(f, fillIn{Name: "fish", Action: to, Presses: presses("fish", "today", "yesterday", "none")})
	d.Shower = v.fill(f, fillIn{Name: "shower", Action: to, Presses: presses("shower", "yes", "no")})
	d.Edge = v.fill(f, fillIn{
		Name: "edge", Action: to, Presses: presses("edge", "in", "out"), Hidden: []option{{Value: "unit", Words: unit}},
		Fields: []field{{Name: "depth", Label: v.T("report.depth", unit), Type: "text", Mode: "decimal", Hint: v.T("report.depth.hint")}},
	})
	d.Looks = v.fill(f, fillIn{Name: "water", Action: to, Presses: presses("water", waterLooks()...)})
	d.Inlet = v.fill(f, fillIn{
		Name: "inlet", Action: to, Presses: presses("inlet", "from", "ok"),
		Fields: []field{{Name: "from", Label: v.T("report.from"), Type: "time"}},
	})
	return page{Name: "reports", Title: "title.reports", Data: d}, nil
}

func waterLooks() []string {
	return []string{string(models.WaterClear), string(models.WaterCleanGreen), string(models.WaterBlueEdge), string(models.WaterDirty)}
}

// depthUnit is what the reader tells depths in.
func (v *view) depthUnit() string {
	if v.Reader.Measures == words.Metric {
		return "m"
	}
	return "ft"
}

// report keeps what was seen.
func (s *Server) report(v *view, f *form) (done, error) {
	var said []string
	say := f.get("say")
	takes := func(what string, list ...string) {
		if among(say, list) == "" {
			f.refuse("", v.T("people.none of", say))
		}
		said = []string{what, say}
	}
	switch f.Name {
	case "fish":
		takes("fish-on-top", "today", "yesterday", "none")
	case "shower":
		takes("showering", "yes", "no")
	case "water":
		takes("water", waterLooks()...)
	case "edge":
		takes("edge", "in", "out")
		s.readDepth(v, f, said)
	case "inlet":
		takes("inlet", "from", "ok")
		if say == "from" {
			at := v.clock(f, "from")
			if !at.Known() && len(f.Wrong) == 0 {
				f.refuse("from", v.T("report.from.needed"))
			}
			said[1] = "from " + at.Or(models.Clock{}).String()
		}
	default:
		f.refuse("", v.T("people.none of", f.Name))
	}
	if err := f.unfilled(); err != nil {
		return done{}, err
	}
	told, err := s.o.Hand.Report(v.Request.Context(), v.Port, said, v.Role)
	d, err := v.answered(f, v.Tell(v.today()).Say(told), err, "/reports")
	d.Own = true
	return d, err
}

// readDepth puts the depth of the edge behind "in", in the unit that the form
// was shown in.
func (s *Server) readDepth(v *view, f *form, said []string) {
	if f.get("say") != "in" {
		return
	}
	unit, one := f.get("unit"), units.Foot
	switch unit {
	case "ft":
	case "m":
		one = units.Metre
	default:
		f.refuse("", v.T("people.none of", unit))
		return
	}
	const deepest = 12000 * units.Foot // as deep as a ground may be
	if depth, ok := v.number(f, "depth", 1, float64(int(deepest/one))).Get(); ok {
		said[1] = "in " + plainNumber(depth) + " " + unit
	}
}
