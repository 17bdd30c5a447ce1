package nws

import "forecastd/internal/models"

// reaches finds the first of some areas that contains one of the positions or
// is crossed by the straight lines from each to the next. Where none does, it
// answers the first area. Areas are small enough to be judged on a flat map of
// latitude and longitude.
func reaches(areas [][]models.Position, route []models.Position) (area []models.Position, hit bool) {
	for _, area := range areas {
		for i, p := range route {
			if contains(area, p) || i > 0 && crosses(area, route[i-1], p) {
				return area, true
			}
		}
	}
	if len(areas) > 0 {
		area = areas[0]
	}
	return area, false
}

// contains counts the edges that a ray to the east crosses.
func contains(area []models.Position, p models.Position) bool {
	inside := false
	for i := range area {
		a, b := area[i], area[(i+1)%len(area)]
		if (a.Lat > p.Lat) != (b.Lat > p.Lat) && p.Lon < a.Lon+(b.Lon-a.Lon)*(p.Lat-a.Lat)/(b.Lat-a.Lat) {
			inside = !inside
		}
	}
	return inside
}

// crosses tells whether the straight line from one place to another meets an
// edge; to touch a corner or to run along an edge is to meet it.
func crosses(area []models.Position, from, to models.Position) bool {
	for i := range area {
		a, b := area[i], area[(i+1)%len(area)]
		if side(from, to, a)*side(from, to, b) <= 0 && side(a, b, from)*side(a, b, to) <= 0 && overlap(a.Lat, b.Lat, from.Lat, to.Lat) && overlap(a.Lon, b.Lon, from.Lon, to.Lon) {
			return true
		}
	}
	return false
}

// overlap tells whether what lies between a and b has something in common with
// what lies between c and d.
func overlap(a, b, c, d float64) bool {
	return max(a, b) >= min(c, d) && max(c, d) >= min(a, b)
}

// side tells on which side of the line from a to b the point p lies.
func side(a, b, p models.Position) float64 {
	return (b.Lon-a.Lon)*(p.Lat-a.Lat) - (b.Lat-a.Lat)*(p.Lon-a.Lon)
}
