package app

import (
	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// FreshWarnings is what the daemon hands to the store after a look.
func FreshWarnings(c fetch.Collection, zones []string) (models.WarningsSeen, bool) {
	return freshWarnings(c, zones)
}
