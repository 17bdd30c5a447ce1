package models

import "time"

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
}

// Pen is what the captain last counted.
type Pen struct {
	Counted time.Time
	Stock   []BaitStock
}
