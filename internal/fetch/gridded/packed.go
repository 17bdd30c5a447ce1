package gridded

import (
	"time"

	"forecastd/internal/models"
)

// packed are the hours of many places out of one file, in a fifth of the room
// that they take as models.Hour: of ten thousand ports' hours that is what
// counts. What comes out is exactly what went in.
type packed struct {
	times []time.Time
	// entries are the hours, one place after the other; those of place i begin
	// at first[i], its values at value[i].
	entries      []entry
	vals         []float64
	first, value []uint32
	// includes is whether the seas hold what currents do to them.
	includes models.Opt[bool]
}

// entry is an hour: which of times, and which quantities are known.
type entry struct {
	time  uint16
	known uint16
}

func pack(hours [][]models.Hour, includes models.Opt[bool]) packed {
	p := packed{includes: includes, first: make([]uint32, 0, len(hours)+1), value: make([]uint32, 0, len(hours))}
	index := map[time.Time]uint16{}
	for _, list := range hours {
		p.first, p.value = append(p.first, uint32(len(p.entries))), append(p.value, uint32(len(p.vals)))
		for _, h := range list {
			n, ok := index[h.At]
			if !ok {
				n = uint16(len(p.times))
				index[h.At], p.times = n, append(p.times, h.At)
			}
			w := packing{p: &p}
			quantities(&w, &h)
			p.entries = append(p.entries, entry{time: n, known: w.known})
		}
	}
	p.first = append(p.first, uint32(len(p.entries)))
	return p
}

// at are the hours of a place.
func (p packed) at(place int) []models.Hour {
	own := p.entries[p.first[place]:p.first[place+1]]
	hours := make([]models.Hour, len(own))
	r := unpacking{vals: p.vals[p.value[place]:]}
	for i, e := range own {
		r.known = e.known
		hours[i].At = p.times[e.time]
		quantities(&r, &hours[i])
		if hours[i].Sea.Known() {
			hours[i].SeaIncludesCurrent = p.includes
		}
	}
	return hours
}

// through is what goes over the quantities of an hour in turn.
type through interface {
	quantity(v float64, ok bool) (float64, bool)
}

// quantities goes over all that readHours can fill.
func quantities(w through, h *models.Hour) {
	one(w, &h.Wind)
	one(w, &h.WindFrom)
	one(w, &h.Gust)
	one(w, &h.Sea)
	one(w, &h.Period)
	one(w, &h.SeaFrom)
	one(w, &h.Swell)
	one(w, &h.SwellPeriod)
	one(w, &h.SwellFrom)
	one(w, &h.Current)
	one(w, &h.CurrentToward)
	one(w, &h.Cloud)
	one(w, &h.Thunder)
	one(w, &h.Visibility)
	one(w, &h.Air)
	one(w, &h.Water)
}

func one[T ~float64](w through, o *models.Opt[T]) {
	v, ok := o.Get()
	if x, ok := w.quantity(float64(v), ok); ok {
		*o = models.Known(T(x))
	}
}

// packing takes the quantities of an hour in.
type packing struct {
	p     *packed
	known uint16
	n     int
}

func (w *packing) quantity(v float64, ok bool) (float64, bool) {
	if ok {
		w.known |= 1 << w.n
		w.p.vals = append(w.p.vals, v)
	}
	w.n++
	return v, ok
}

// unpacking gives them out again.
type unpacking struct {
	vals  []float64
	known uint16
}

func (r *unpacking) quantity(float64, bool) (v float64, ok bool) {
	if ok = r.known&1 == 1; ok {
		v, r.vals = r.vals[0], r.vals[1:]
	}
	r.known >>= 1
	return v, ok
}
