package app

import (
	"context"
	"fmt"

	"forecastd/config"
	"forecastd/internal/models"
)

// CheckBookings reads the files of bookings that the configuration names,
// and with addresses the calendars on servers, too. It tells what they hold
// and all that does not fit, with its line.
func (a *App) CheckBookings(ctx context.Context, addresses bool) []Finding {
	var found []Finding
	for _, p := range a.cfg.Ports {
		today := models.DateOf(a.now(), p.Zone)
		for _, place := range a.bookingPlaces(p) {
			where, named := place.where.Get()
			if !named || config.IsAddress(where) && !addresses {
				continue
			}
			read, err := place.read(ctx, today.AddDays(-bookingsBack), today.AddDays(bookingsAhead))
			if err != nil {
				found = append(found, failed(place.name, err)...)
				continue
			}
			toCome := 0
			for _, b := range read.Bookings {
				if !b.Cancelled && !b.Date.Before(today) {
					toCome++
				}
			}
			why := fmt.Sprintf("%d bookings to come", toCome)
			if n := len(read.Taken); n > 0 {
				why += fmt.Sprintf("; %d days are kept for what else stands there", n)
			}
			found = append(found, Finding{Sound, place.name, why})
			for _, s := range read.Problems {
				found = append(found, Finding{Doubtful, place.name, s})
			}
		}
	}
	return found
}
