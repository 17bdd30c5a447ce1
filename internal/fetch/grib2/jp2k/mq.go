package jp2k

import (
	"encoding/binary"
	"math/bits"
)

// mq is the binary arithmetic decoder of JPEG2000 annex C.
//
// The interval a and the code c are held with 47 bits below the 16 that the
// standard compares, so that the stream is fetched 32 bits at a time. Between
// renormalisations only slack changes: the room that is left for the more
// probable symbols' intervals before either a falls below its half or c leaves
// the upper sub-interval. A decision costs one subtraction as long as there is
// room:
//
//	s := m.cx[label]
//	slack -= int64(s)
//	bit := s.likely()
//	if slack < 0 {
//		bit, slack = m.renormalise(slack, label)
//	}
//
// The intervals being multiples of 2^47, the bits below do not decide whether
// there is room: slack starts with all of them set, and a state is taken off
// with what it holds down there, which would have to be taken off four thousand
// million times to matter.
type mq struct {
	a, c  int64
	avail int // bits of c below the compared ones that are filled
	src   []byte
	next  int // octet of src to fetch
	cx    [32]state
}

// labels of the contexts (JPEG2000 table D.1 and following).
const (
	labelSign    = 9
	labelRefine  = 14
	labelRun     = 17
	labelUniform = 18
)

// state is an entry of JPEG2000 table C.2 for one more probable symbol: the
// interval of the less probable one in bits 47 to 62, the more probable symbol
// in bit 0, and above it in seven bits each the entries that follow on the
// more and on the less probable symbol.
type state uint64

func (s state) likely() uint32 { return uint32(s & 1) }

const (
	mqShift = 47
	mqBelow = int64(1)<<mqShift - 1
	mqHalf  = int64(0x8000) << mqShift
)

// room is the slack after a renormalisation.
func room(a, c int64) int64 { return min(a-mqHalf, c) | mqBelow }

var states = func() (table [128]state) {
	for i, e := range probabilities {
		for symbol := range 2 {
			lps := symbol
			if e.swap {
				lps = 1 - symbol
			}
			table[2*i+symbol] = state(e.qe)<<mqShift | state(symbol) |
				state(2*int(e.nmps)+symbol)<<1 | state(2*int(e.nlps)+lps)<<8
		}
	}
	return table
}()

// probabilities is JPEG2000 table C.2.
var probabilities = [47]struct {
	qe         uint16
	nmps, nlps uint8
	swap       bool
}{
	{0x5601, 1, 1, true}, {0x3401, 2, 6, false}, {0x1801, 3, 9, false}, {0x0ac1, 4, 12, false},
	{0x0521, 5, 29, false}, {0x0221, 38, 33, false}, {0x5601, 7, 6, true}, {0x5401, 8, 14, false},
	{0x4801, 9, 14, false}, {0x3801, 10, 14, false}, {0x3001, 11, 17, false}, {0x2401, 12, 18, false},
	{0x1c01, 13, 20, false}, {0x1601, 29, 21, false}, {0x5601, 15, 14, true}, {0x5401, 16, 14, false},
	{0x5101, 17, 15, false}, {0x4801, 18, 16, false}, {0x3801, 19, 17, false}, {0x3401, 20, 18, false},
	{0x3001, 21, 19, false}, {0x2801, 22, 19, false}, {0x2401, 23, 20, false}, {0x2201, 24, 21, false},
	{0x1c01, 25, 22, false}, {0x1801, 26, 23, false}, {0x1601, 27, 24, false}, {0x1401, 28, 25, false},
	{0x1201, 29, 26, false}, {0x1101, 30, 27, false}, {0x0ac1, 31, 28, false}, {0x09c1, 32, 29, false},
	{0x08a1, 33, 30, false}, {0x0521, 34, 31, false}, {0x0441, 35, 32, false}, {0x02a1, 36, 33, false},
	{0x0221, 37, 34, false}, {0x0141, 38, 35, false}, {0x0111, 39, 36, false}, {0x0085, 40, 37, false},
	{0x0049, 41, 38, false}, {0x0025, 42, 39, false}, {0x0015, 43, 40, false}, {0x0009, 44, 41, false},
	{0x0005, 45, 42, false}, {0x0001, 45, 43, false}, {0x5601, 46, 46, false},
}

// start begins a code word and sets all contexts to their first states. It
// returns the slack.
func (m *mq) start(src []byte) int64 {
	for i := range m.cx {
		m.cx[i] = states[0]
	}
	m.cx[0] = states[2*4]
	m.cx[labelRun] = states[2*3]
	m.cx[labelUniform] = states[2*46]

	m.src, m.next = src, 0
	// The code word starts one bit below the interval's top.
	m.a, m.c, m.avail = mqHalf, 0, -15
	m.fetch()
	return room(m.a, m.c)
}

// renormalise settles the decision that used up the slack, without branches
// on what it is, and returns it with the new slack.
func (m *mq) renormalise(slack int64, label uint32) (uint32, int64) {
	s := m.cx[label&31]
	qe := int64(s) &^ mqBelow
	used := (room(m.a, m.c) - slack) &^ mqBelow
	a, c := m.a-used, m.c-used

	lower := c >> 63          // all ones: the code lies in the lower sub-interval
	swapped := (a - qe) >> 63 // all ones: the lower sub-interval is the larger one
	unlikely := lower ^ swapped
	c += qe & lower
	a ^= (a ^ qe) & lower
	m.cx[label&31] = states[s>>(1+7&uint64(unlikely))&127]

	n := bits.LeadingZeros64(uint64(a)) - 1
	a <<= n & 63
	c <<= n & 63
	m.a, m.c = a, c
	m.avail -= n
	if m.avail < 15 {
		m.fetch()
		c = m.c
	}
	return s.likely() ^ uint32(unlikely&1), room(a, c)
}

// fetch adds 32 bits of the code word, or about as many: after an octet of
// 0xff the next one counts from one bit further left, which is room for a
// carry. From the end of the code word, or from a marker, on come ones.
func (m *mq) fetch() {
	if p := m.next; p > 0 && p+4 <= len(m.src) {
		w := binary.BigEndian.Uint32(m.src[p:])
		if inverse := ^w; m.src[p-1] != 0xff && (inverse-0x01010101)&w&0x80808080 == 0 {
			m.c += int64(w) << (mqShift - 32 - m.avail)
			m.avail += 32
			m.next += 4
			return
		}
	}
	for range 4 {
		octet, n := int64(0xff), 8
		if p := m.next; p < len(m.src) {
			stuffed := p > 0 && m.src[p-1] == 0xff
			if stuffed && m.src[p] > 0x8f {
				m.src = m.src[:p]
			} else {
				octet = int64(m.src[p])
				m.next++
			}
			if stuffed && p < len(m.src) {
				n = 7
			}
		}
		m.avail += n
		m.c += octet << (mqShift - m.avail)
	}
}
