package config

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"forecastd/internal/models"
)

// spot reads a position, latitude first, in one of three ways: as the chart
// plotter shows it, "27 12.000 N, 79 49.800 W"; in degrees with the
// hemisphere, "27.2 N, 79.83 W"; or signed, "27.2, -79.83". A bare pair of
// numbers counts west as negative.
func spot() kind[models.Position] {
	const cure = "write latitude and longitude, as 27.2000 N, 79.8300 W"
	return kind[models.Position]{
		what: "a position, as 27.2000 N, 79.8300 W",
		show: models.Position.String,
		read: func(s string) (models.Position, error) {
			lat, lon, ok := strings.Cut(s, ",")
			if !ok {
				return models.Position{}, fmt.Errorf("%q is no position: %s", s, cure)
			}
			var p models.Position
			var err error
			if p.Lat, err = axis(lat, "latitude", 90, "N", "S"); err != nil {
				return models.Position{}, fmt.Errorf("%w: %s", err, cure)
			}
			if p.Lon, err = axis(lon, "longitude", 180, "E", "W"); err != nil {
				return models.Position{}, fmt.Errorf("%w: %s", err, cure)
			}
			return p, nil
		},
	}
}

// ParsePosition reads a position in any of the ways that the configuration
// takes: "27.2,-80.1", "27.2 N, 80.1 W" or "27 12.0 N, 80 06.0 W".
func ParsePosition(s string) (models.Position, error) { return spot().read(strings.TrimSpace(s)) }

// axis reads one half of a position.
func axis(s, noun string, most float64, plus, minus string) (float64, error) {
	s = strings.TrimSpace(s)
	m := axisForm.FindStringSubmatch(s)
	if m == nil {
		return 0, fmt.Errorf("%q is no %s", s, noun)
	}
	sign, deg, minutes, hemisphere := m[1], m[2], m[3], m[4]
	v, err := strconv.ParseFloat(deg, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no %s", s, noun)
	}
	if minutes != "" {
		f, err := strconv.ParseFloat(minutes, 64)
		switch {
		case err != nil || f >= 60:
			return 0, fmt.Errorf("%q has %s minutes, and 60 make a degree", s, minutes)
		case strings.Contains(deg, "."):
			return 0, fmt.Errorf("%q has minutes after a broken degree", s)
		case hemisphere == "":
			return 0, fmt.Errorf("%q has minutes and no %s or %s", s, plus, minus)
		}
		v += f / 60
	}
	switch {
	case sign != "" && hemisphere != "":
		return 0, fmt.Errorf("%q has both a sign and a hemisphere", s)
	case hemisphere != "" && hemisphere != plus && hemisphere != minus:
		return 0, fmt.Errorf("%q is no %s: it ends in %s or %s", s, noun, plus, minus)
	case v > most:
		return 0, fmt.Errorf("%s %q lies off the globe, past %v degrees", noun, s, most)
	}
	if sign == "-" || hemisphere == minus {
		v = -v
	}
	return v, nil
}

// axisForm is sign, degrees, minutes and hemisphere.
var axisForm = regexp.MustCompile(`^([-+]?)(\d{1,3}(?:\.\d{1,8})?) ?°?(?: ?(\d{1,2}(?:\.\d{1,6})?) ?['′]?)? ?([NSEW]?)$`)
