// Package fetch is the contract between the foreign services and the rest:
// a Source is asked for what one port needs and answers with domain values,
// and the Collector asks them all, each failing on its own.
package fetch

import (
	"context"
	"time"

	"forecastd/internal/models"
)

// Batch is what one source answered.
type Batch struct {
	Observations []models.Observation
	Series       []models.Series
	// Warnings is unknown unless the source is a warnings feed that answered
	// in full; a known empty list means that none is in force or coming.
	Warnings models.Opt[[]models.Warning]
	// Seen is what a warnings feed answered word for word: Warnings also hold
	// what it lacked once. It is unknown where Warnings are.
	Seen    models.Opt[models.WarningsSeen]
	Texts   []models.OfficialText
	Tides   []models.TideEvent
	Streams []models.StreamEvent
	// Hours of tidal stream in the inlet, for joining into the outlook.
	Inlet []models.Hour
	// Lacks name the parts that this answer should hold and does not: a call
	// names them.
	Lacks []models.Gap
	// Notes tell what was skipped and why, one plain sentence each.
	Notes []string
	// From tells for each part where it came from and how old it is.
	From []models.Provenance
}

// Source fetches from one foreign service what one port needs.
//
// Fetch honours cancellation and deadline of ctx before and during the
// request, may be called again and by several goroutines, never panics, and
// answers values that are sorted by time, in UTC and plausible. A part that
// could not be read is left out and told in Notes; an error means that
// nothing usable came. Errors are or wrap *models.Error.
type Source interface {
	// Name is the short name people read: "ndbc", "nws alerts".
	Name() string
	// MaxAge is how long the last good answer counts after it was fetched.
	MaxAge() time.Duration
	// Oldest is how long ago the service may have made what it answers, by its
	// own word (Provenance.Issued); what is older is unknown, however lately it
	// was fetched. 0: it does not age, as predictions do not.
	Oldest() time.Duration
	Fetch(ctx context.Context) (Batch, error)
}

// Paced is a Source that knows when something new can be there. It is not
// asked before; its last good answer stands.
type Paced interface {
	Source
	// Next is when it is worth to ask again after a good answer that was
	// fetched at last.
	Next(last time.Time) time.Time
}

// Keeper is a Source that remembers its last good answer itself, so that the
// Collector need not.
type Keeper interface {
	Source
	// Kept is the last good answer once more; false where there is none.
	Kept() (Batch, bool)
}
