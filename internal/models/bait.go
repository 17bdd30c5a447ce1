package models

import (
	"slices"
	"strings"
	"time"
)

// BaitSource is how a bait was come by, which decides how long it lives.
type BaitSource string

// Ways to come by bait.
const (
	BaitHooked   BaitSource = "hooked"
	BaitNetted   BaitSource = "netted"
	BaitSeasoned BaitSource = "seasoned"
	BaitBought   BaitSource = "bought"
)

// BaitStock is one lot of one kind of bait in the pen.
type BaitStock struct {
	Kind   string // the trade's word: "goggle-eye"
	Count  int
	Source BaitSource
	// Caught is the day it went into the pen.
	Caught Opt[Date]
	// Counted is when this lot was counted last; unknown is with the pen.
	Counted Opt[time.Time]
}

// BaitCount is a number of baits, those that bear a day's work under a kite
// apart from those that do not.
type BaitCount struct{ Hardy, Delicate int }

// Total is how many baits there are.
func (c BaitCount) Total() int { return c.Hardy + c.Delicate }

// Less is what is left when some are taken; of no kind less than none.
func (c BaitCount) Less(taken BaitCount) BaitCount {
	return BaitCount{max(c.Hardy-taken.Hardy, 0), max(c.Delicate-taken.Delicate, 0)}
}

// Plus adds up.
func (c BaitCount) Plus(more BaitCount) BaitCount {
	return BaitCount{c.Hardy + more.Hardy, c.Delicate + more.Delicate}
}

// BaitKind is one kind of bait.
type BaitKind struct {
	// Name is the word by which it is kept: "goggle-eye".
	Name string
	// Hardy baits live under a kite and in the well; the others are for flat
	// lines, casting and chum.
	Hardy bool
	// Also are the trade's other words for it.
	Also []string
}

// BaitKinds are the kinds that the trade uses, those most used first. Which
// are hardy, and the words: common practice, no source (trade notes 5.1, 5.5
// and 9); the Spanish words from memory.
func BaitKinds() []BaitKind {
	return []BaitKind{
		{"goggle-eye", true, []string{"gog", "googly", "google eye", "bigeye scad", "ojón", "chicharro ojón"}},
		{"runner", true, []string{"blue runner", "hardtail", "cojinúa"}},
		{"herring", true, []string{"threadfin", "threadfin herring", "greenie", "small herring", "machuelo", "machuelo pequeño"}},
		{"sardine", true, []string{"spanish sardine", "sardina"}},
		{"pilchard", false, []string{"whitebait", "white bait", "scaled sardine", "pilly", "pillie", "sardineta"}},
		{"ballyhoo", false, []string{"balao", "balajú"}},
		{"cigar minnow", false, []string{"cigar", "chicharro"}},
		{"mullet", true, []string{"finger mullet", "lisa"}},
		{"pinfish", true, []string{"pin", "sargo"}},
		{"speedo", false, []string{"redtail scad", "macarela salmón"}},
	}
}

// BaitKindOf finds the kind that somebody means: case, hyphens, blanks,
// accents and a plural make no other kind. One that nobody knows is kept by
// its own word, and known is false.
func BaitKindOf(said string) (kind BaitKind, known bool) {
	asked := baitKey(said)
	for _, k := range BaitKinds() {
		if slices.ContainsFunc(append(k.Also, k.Name), func(w string) bool { return baitKey(w) == asked }) {
			return k, true
		}
	}
	return BaitKind{Name: strings.Join(strings.Fields(strings.ToLower(said)), " ")}, false
}

// baitKey is a word for a bait without what people write one way or another.
func baitKey(s string) string {
	s = strings.NewReplacer("-", "", "_", "", " ", "", ".", "", "'", "", "’", "", "á", "a", "é", "e", "í", "i", "ó", "o", "ú", "u", "ñ", "n").
		Replace(strings.ToLower(strings.Join(strings.Fields(s), " ")))
	for _, end := range []string{"ies", "s"} {
		if cut, ok := strings.CutSuffix(s, end); ok && len(cut) > 2 {
			if end == "ies" {
				cut += "ie"
			}
			return cut
		}
	}
	return s
}
