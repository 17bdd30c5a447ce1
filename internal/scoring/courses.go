package scoring

import (
	"slices"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
)

// causes are some of what may close an hour, a bit for each.
type causes uint16

func (c cause) bit() causes { return 1 << c }

func (c causes) has(by cause) bool { return c&by.bit() != 0 }

// gravest is the first of them.
func (c causes) gravest() cause {
	for by := byNobody; by <= byNoData; by++ {
		if c.has(by) {
			return by
		}
	}
	return byNoData
}

// What ends a trip: a limit that is passed for two hourly values in a row, and
// what closes an hour at once. One gusty hour is no cancelled charter.
const (
	limitCauses = causes(1<<byInlet | 1<<byNever | 1<<byOwn | 1<<byRide)
	inARow      = 120 // minutes
)

// slot is one hour of a course, judged: what the plan needs of it and no more.
type slot struct {
	from, to         int32
	worth            [modeCount]float32 // an hour's worth, by mode
	kite, look, fish float32
	cost             float32 // an hour's discomfort
	ride             models.Ride
	shut             causes
	never            bool
	soaked           bool
}

// course is one day that may come, judged.
type course []slot

// lists are the hours of the courses that the outlook has, or that are drawn
// around its middle one.
func (s *site) lists() [][]models.Hour {
	list := s.o.Members
	if len(list) == 0 {
		list = outlook.Around(s.o.Middle.Hours, s.o.Made, s.place(), s.lim.Courses)
	}
	out := make([][]models.Hour, len(list))
	for i := range list {
		out[i] = outlook.Joined(list[i].Hours)
	}
	return out
}

// drawsOf are the draws of so many courses, made once.
func (s *site) drawsOf(n int) *outlook.Draws {
	if s.draws == nil || s.drawn != n {
		s.draws, s.drawn = outlook.DrawsOf(n), n
	}
	return s.draws
}

// sparse are the lists with only every so many of them left in, the others
// nil: enough to see which way a day turns.
func sparse(lists [][]models.Hour, every int) [][]models.Hour {
	out := make([][]models.Hour, len(lists))
	for i := 0; i < len(lists); i += every {
		out[i] = lists[i]
	}
	return out
}

func (s *site) place() outlook.Place {
	return outlook.Place{Zone: s.zone, Lat: s.o.Ground.At.Lat, Shore: s.o.Port.ShoreNormal}
}

// judgeAll judges the courses. What an hour of them does not know is drawn.
func (s *site) judgeAll(lists [][]models.Hour, mid []hour) []course {
	total := 0
	for _, hours := range lists {
		total += len(hours)
	}
	all := make([]slot, 0, total)
	out := make([]course, 0, len(lists))
	var times []models.Hour // those that the spans are of
	var held []models.Interval
	var h hour
	draws := s.drawsOf(len(lists))
	s.many = true
	defer func() { s.many = false }()
	for i, hours := range lists {
		if hours == nil {
			continue
		}
		if !sameTimes(times, hours) {
			times, held = hours, spans(hours)
		}
		first := len(all)
		warned := !s.o.Warnings.Known() && draws.Warned(i)
		for k := range hours {
			if !held[k].Overlaps(s.day) {
				continue
			}
			x := hours[k]
			draws.Complete(&x, i, s.place())
			h = hour{span: held[k], from: s.minute(held[k].Start), to: s.minute(held[k].End)}
			h.c, h.ch = s.inCourse(x, held[k], s.worked.at(len(lists), i, k))
			s.judge(&h)
			all = append(all, s.slotOf(&h, warned))
		}
		c := course(all[first:len(all):len(all)])
		s.lackAlike(c, mid)
		out = append(out, c)
	}
	return out
}

func sameTimes(a, b []models.Hour) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if !a[i].At.Equal(b[i].At) {
			return false
		}
	}
	return true
}

// slotOf keeps of a judged hour what the plan needs.
func (s *site) slotOf(h *hour, warned bool) slot {
	x := slot{from: int32(h.from), to: int32(h.to), kite: float32(h.kite.worth), look: float32(h.look.worth), fish: float32(h.fish), ride: h.ride}
	var w [modeCount]float64
	s.worths(h, &w)
	for m := range w {
		x.worth[m] = float32(w[m])
	}
	cost, _ := s.discomfort(h.ride)
	x.cost = float32(cost)
	for by := byNobody; by <= byNoData; by++ {
		if _, closed := s.closes(by, h, false); closed && !s.lifts[by] {
			x.shut |= by.bit()
		}
	}
	if warned {
		x.shut |= byAdvisory.bit()
	}
	x.never = s.never(h) && !s.lifts[byNever]
	x.soaked = h.c.Rain.Or(0) >= outlook.Soaking
	return x
}

// lackAlike closes a course's hours where the middle one tells too little for
// anybody to go.
func (s *site) lackAlike(c course, mid []hour) {
	for k := range mid {
		if _, closed := s.closes(byNoData, &mid[k], false); !closed {
			continue
		}
		for i := range c {
			if int(c[i].from) < mid[k].to && mid[k].from < int(c[i].to) {
				c[i].shut |= byNoData.bit()
			}
		}
	}
}

// at is the slot that holds at a minute.
func (c course) at(minute, hint int) (*slot, bool) {
	if hint < len(c) && int(c[hint].from) <= minute && minute < int(c[hint].to) {
		return &c[hint], true
	}
	for i := range c {
		if int(c[i].from) <= minute && minute < int(c[i].to) {
			return &c[i], true
		}
	}
	return nil, false
}

// counts are the causes that count for this trip: a fixed-date event passes
// over some, and what nobody knows keeps nobody in where it is asked whether
// staying in is right.
func (s *site) counts(c causes) causes {
	if s.supposing {
		c &^= byNoData.bit()
	}
	if s.soft {
		for by := byNobody; by <= byNoData; by++ {
			if (closing{cause: by}).passable() {
				c &^= by.bit()
			}
		}
	}
	return c
}

// stop is when and by what a course ends a trip that leaves at a minute: the
// far future where nothing does. A stop at the leaving is a trip that does not
// leave.
func (s *site) stop(c course, leave int) (at int, by cause) {
	began := -1
	var passed causes
	for i := range c {
		x := &c[i]
		if int(x.to) <= leave {
			continue
		}
		shut := s.counts(x.shut)
		if shut&limitCauses == 0 {
			began, passed = -1, 0
		} else {
			if began < 0 {
				began = int(x.from)
			}
			passed |= shut
			if int(x.to)-began >= inARow {
				return max(began, leave), passed.gravest()
			}
		}
		if shut&^limitCauses != 0 {
			return max(int(x.from), leave), (shut &^ limitCauses).gravest()
		}
	}
	return farFuture, byNoData
}

// label gives the hours of the middle one the median grades of the courses,
// and returns what is closed: an hour that the forecast itself or many of the
// courses close, or in which one in five is past a never limit.
func (s *site) label(v *view) []closing {
	n := len(v.courses)
	kites, looks, fish := make([]float32, n), make([]float32, n), make([]float32, n)
	rides := make([]models.Ride, n)
	var out []closing
	margin := int(s.lim.OwnMargin / time.Minute)
	for k := range v.hours {
		h := &v.hours[k]
		in, shut, never := 0, 0, 0
		var by [byNoData + 1]int
		for i := range v.courses {
			x, ok := v.courses[i].at(h.from, k)
			if !ok {
				continue
			}
			kites[in], looks[in], fish[in], rides[in] = x.kite, x.look, x.fish, x.ride
			in++
			if x.never {
				never++
			}
			if x.shut == 0 {
				continue
			}
			shut++
			for c := byNobody; c <= byNoData; c++ {
				if x.shut.has(c) {
					by[c]++
				}
			}
		}
		// The captain's limits were set on forecasts: what the forecast itself
		// passes is closed, whatever the courses say.
		var forecast causes
		var why [byNoData + 1]models.Phrase
		for c := byNobody; c <= byNoData; c++ {
			if says, closed := s.closes(c, h, true); closed && !s.lifts[c] {
				forecast |= c.bit()
				why[c] = says
			}
		}
		s.grades(h, kites[:in], looks[:in], fish[:in], rides[:in])
		if float64(never) >= s.lim.NeverMembers*float64(n)-1e-9 && never > 0 {
			out = append(out, closing{from: h.from, to: h.to, margin: margin, cause: byNever, why: neverPhrase(never, n)})
		}
		many := shut > 0 && float64(shut) >= s.lim.CloseShare*float64(n)-1e-9
		for c := byNobody; c <= byNoData; c++ {
			switch {
			case forecast.has(c):
			case many && float64(by[c]) >= s.lim.CloseShare*float64(n)-1e-9:
				why[c] = models.Say("closed.scenarios", models.Say("cause."+c.String()), by[c], n)
			default:
				continue
			}
			cl := closing{from: h.from, to: h.to, margin: margin, cause: c, why: why[c]}
			switch c {
			case byFog:
				cl.wait = int(s.lim.FogClear / time.Minute)
			case byNoData:
				cl.margin = 0
			case byNobody, byAdvisory, byWatch, byThunder, byInlet, byNever, byOwn, byRide:
			}
			out = append(out, cl)
		}
		if many && forecast == 0 && float64(most(by)) < s.lim.CloseShare*float64(n)-1e-9 {
			c := worst(by)[0]
			out = append(out, closing{from: h.from, to: h.to, margin: margin, cause: c, why: models.Say("closed.scenarios", models.Say("cause.several"), shut, n)})
		}
	}
	return out
}

func most(by [byNoData + 1]int) int { return slices.Max(by[:]) }

// worst are the causes that close in any course, the commonest first, the
// gravest of equals.
func worst(by [byNoData + 1]int) []cause {
	var out []cause
	for c := byNobody; c <= byNoData; c++ {
		if by[c] > 0 {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b cause) int { return by[b] - by[a] })
	return out
}

// middleFifth is how far around the half of the courses the forecast's own
// value is the median: where it stands at an edge itself, a course more or
// less on either side decides nothing.
const middleFifth = 0.1

// median is the value that half of the courses reach, the forecast's own where
// it is as good as that. The list is in order.
func median[T ~int | ~float64, U ~int | ~float32](forecast T, list []U) T {
	n := float64(len(list) - 1)
	low, high := list[int((0.5-middleFifth)*n)], list[int((0.5+middleFifth)*n+0.999)]
	return min(max(forecast, T(low)), T(high))
}

// grades gives an hour the grades that half of the courses reach. What nobody
// knows holds them down as it holds down a single hour's.
func (s *site) grades(h *hour, kites, looks, fish []float32, rides []models.Ride) {
	if len(kites) == 0 {
		return
	}
	slices.Sort(kites)
	slices.Sort(looks)
	slices.Sort(fish)
	slices.Sort(rides)
	kite, look, ride := median(h.kite.worth, kites), median(h.look.worth, looks), median(h.ride, rides)
	if !h.c.Thunder.Known() {
		kite, look = min(kite, s.lim.GradeGood-0.01), min(look, s.lim.GradeGood-0.01)
	}
	if !h.c.Gust.Known() || !h.c.Sea.Known() || !h.c.Period.Known() {
		kite, look = min(kite, h.kite.worth), min(look, h.look.worth)
		ride = max(ride, h.ride)
	}
	h.alone.kite, h.alone.look = h.kite.worth, h.look.worth
	h.kite.worth, h.look.worth, h.fish, h.ride = kite, look, median(h.fish, fish), ride
}

// clearUntil tells, for a boat that leaves at a minute, until when enough of
// the courses stay clear of the never limits.
func (s *site) clearUntil(leave int, courses []course) int {
	if len(courses) == 0 || s.soft || s.lifts[byNever] {
		return farFuture
	}
	firsts := make([]int, 0, len(courses))
	for _, c := range courses {
		first := farFuture
		for i := range c {
			if int(c[i].to) > leave && c[i].never {
				first = max(int(c[i].from), leave)
				break
			}
		}
		firsts = append(firsts, first)
	}
	slices.Sort(firsts)
	// Of n courses at most (1-share)n may be past a limit before the boat is back.
	spare := int((1-s.lim.StayMembers)*float64(len(courses)) + 1e-9)
	if spare >= len(firsts) {
		return farFuture
	}
	return firsts[spare]
}
