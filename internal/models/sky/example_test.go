package sky_test

import (
	"fmt"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/models/sky"
)

// SPA2003's worked example: Golden, 2003-10-17 at 12:30:30 (UTC-7): the sun
// stands 39.872 degrees high without refraction, toward 194.340.
func ExampleSunAt() {
	sun := sky.SunAt(time.Date(2003, 10, 17, 19, 30, 30, 0, time.UTC), models.Position{Lat: 39.742476, Lon: -105.1786})
	fmt.Printf("%.1f high in %.1f\n", sun.Elevation, sun.Azimuth)
	// Output: 39.9 high in 194.3
}
