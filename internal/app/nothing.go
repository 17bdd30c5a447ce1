package app

import (
	"fmt"
	"strings"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// NoDaysError says that nothing can be told of any day ahead.
type NoDaysError struct {
	// Missing is what could not be had, and why.
	Missing []models.Gap
}

// Error tells what is missing, one line each.
func (e *NoDaysError) Error() string {
	lines := []string{"nothing can be told of the days ahead: no source gave any wind for one"}
	for _, g := range e.Missing {
		lines = append(lines, fmt.Sprintf("  missing: %s: %s", g.What, g.Why))
	}
	return strings.Join(append(lines, "  official warnings are unknown to this tool now: listen to the official broadcast"), "\n")
}

// noneAnswered tells that of the sources of a ground none answered when it was
// last asked; nil where one did.
func noneAnswered(ground string, data fetch.Collection) error {
	var first error
	for _, s := range data.Sources {
		if s.State == fetch.Fresh {
			return nil
		}
		if first == nil && s.Err != nil {
			first = fmt.Errorf("%s: %w", s.Name, s.Err)
		}
	}
	if first == nil {
		return nil // nobody was asked
	}
	return fmt.Errorf("none of the %d sources for %s answered; the first says: %w", len(data.Sources), ground, first)
}
