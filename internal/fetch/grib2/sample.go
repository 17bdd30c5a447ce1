package grib2

import "slices"

// sampled is a place, the grid points that matter to it, and their values in
// one or two fields.
type sampled struct {
	stencil
	inside bool
	from   []*picked
}

// picked are the values of a field at the grid points that were asked for.
type picked struct {
	index   []int // in the file, ascending
	vals    []float64
	missing mask
}

func (s *sampled) find(field, index int) int {
	i, _ := slices.BinarySearch(s.from[field].index, index)
	return i
}

func (s *sampled) has(field, index int) bool {
	return !s.from[field].missing.has(s.find(field, index))
}

func (s *sampled) get(field, index int) float64 { return s.from[field].vals[s.find(field, index)] }

// mix chooses the grid points to use, out of those that present tells to have
// a value: the corners, those of them that have one, or the nearest that has.
func (s *sampled) mix(present func(index int) bool) (nodes []node, how How, away float64) {
	nodes = make([]node, 0, 4)
	var total float64
	for _, n := range s.near[:s.n] {
		if present(n.index) {
			nodes = append(nodes, n)
			total += n.weight
		}
	}
	// Corners with hardly any weight would carry a value across a whole cell.
	const enough = 1e-6
	switch {
	case len(nodes) == s.n:
		how = Bilinear
	case total > enough:
		how = Partial
	default:
		nodes, how = nodes[:0], Missing
		for _, n := range s.ring {
			if present(n.index) {
				n.weight = 1
				nodes, how = append(nodes, n), NearestWet
				break
			}
		}
	}
	if len(nodes) == 0 {
		return nil, Missing, 0
	}
	away = nodes[0].away
	for _, n := range nodes {
		away = min(away, n.away)
	}
	return nodes, how, away
}

// sample finds the stencils of many places and the values there, in fields
// that share a grid.
func sample(points []Point, fields ...*Field) ([]*sampled, error) {
	first := fields[0]
	holes := false
	for _, f := range fields {
		if f.bad != nil {
			return nil, f.bad
		}
		if f.Grid == nil {
			return nil, f.badGrid
		}
		holes = holes || f.bitmap != nil || f.pack.template == 4 || f.pack.complex.missing > 0
	}
	all := make([]sampled, len(points))
	out := make([]*sampled, len(points))
	from := make([]*picked, len(fields))
	want := make([]int, 0, 4*len(points))
	for i, p := range points {
		s := &all[i]
		out[i], s.from = s, from
		if s.stencil, s.inside = first.Grid.stencilAt(p, holes); !s.inside {
			continue
		}
		want = s.wants(want, fields)
	}
	slices.Sort(want)
	want = slices.Compact(want)
	for i, f := range fields {
		p, err := f.pick(want)
		if err != nil {
			return nil, err
		}
		from[i] = p
	}
	return out, nil
}

// wants adds the grid points to unpack for the place: the corners if any of
// them will do, else those around as well.
func (s *sampled) wants(want []int, fields []*Field) []int {
	near := s.near[:s.n]
	if s.ring != nil && s.certain(fields) {
		s.ring = nil
	}
	for _, n := range near {
		want = append(want, n.index)
	}
	for _, n := range s.ring {
		want = append(want, n.index)
	}
	return want
}

// certain tells whether, by the bitmaps alone, a corner has a value in every
// field.
func (s *sampled) certain(fields []*Field) bool {
	for _, f := range fields {
		if f.pack.template == 4 || f.pack.complex.missing > 0 {
			return false
		}
	}
	for _, n := range s.near[:s.n] {
		everywhere := n.weight > 0.01
		for _, f := range fields {
			everywhere = everywhere && (f.bitmap == nil || f.bitmap.has(n.index))
		}
		if everywhere {
			return true
		}
	}
	return false
}

// pick unpacks the values at ascending points of the file.
func (f *Field) pick(index []int) (*picked, error) {
	p := &picked{index: index, vals: make([]float64, len(index)), missing: newMask(len(index))}
	u, bad := f.open(new(work))
	if bad != nil {
		return nil, bad
	}
	if f.bitmap == nil {
		if err := u.pick(index, p.vals, p.missing); err != nil {
			return nil, f.locate(err)
		}
		return p, nil
	}
	at := make([]int, 0, len(index)) // which of index have a coded value
	coded := make([]int, 0, len(index))
	for i, k := range index {
		if f.bitmap.has(k) {
			at = append(at, i)
			coded = append(coded, f.bitmap.rank(k))
		} else {
			p.missing.set(i)
		}
	}
	vals, missing := make([]float64, len(coded)), newMask(len(coded))
	if err := u.pick(coded, vals, missing); err != nil {
		return nil, f.locate(err)
	}
	for i, k := range at {
		p.vals[k] = vals[i]
		if missing.has(i) {
			p.missing.set(k)
		}
	}
	return p, nil
}
