package gridded

import (
	"math"
	"slices"

	"forecastd/internal/fetch/grib2"
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// highestSea is above every significant height on record: a buoy measured 19 m
// in the North Atlantic in 2013 (World Meteorological Organization, 2016; from
// memory).
const highestSea = 20 // metres

// A sea this many times as high as its neighbours, in space or time, and that
// much higher, is a fault of the data and not weather: real files hold single
// cells of 11 to 30 m at river mouths, beside water of 0.3 to 0.9 m. A real
// sea shoals and decays over several cells and hours (our own choice, wide of
// both).
const (
	spikeRatio = 3.0
	spikeLeast = 3.0 // metres above the neighbours
)

// ringCells is how far off, in cells, the neighbours of a place are looked at:
// clear of the cells that went into its own value.
const ringCells = 3

// standsAlone tells whether the highest grid point that went into a value is a
// spike: far above the median of the water around. Where there is too little
// water around, nobody can tell.
func standsAlone(f *grib2.Field, at grib2.Point, v grib2.Value) (bool, error) {
	if !(v.High > spikeLeast) || f.Grid == nil {
		return false, nil
	}
	dLat, dLon := cell(f.Grid, at.Lat)
	var around []grib2.Point
	for _, d := range [][2]float64{{1, 0}, {1, 1}, {0, 1}, {-1, 1}, {-1, 0}, {-1, -1}, {0, -1}, {1, -1}} {
		around = append(around, grib2.Point{Lat: at.Lat + d[0]*ringCells*dLat, Lon: at.Lon + d[1]*ringCells*dLon})
	}
	vs, err := f.AtPoints(around)
	if err != nil {
		return false, err
	}
	var known []float64
	for _, n := range vs {
		if x, ok := n.Get(); ok {
			known = append(known, x)
		}
	}
	const enough = 3
	if len(known) < enough {
		return false, nil
	}
	slices.Sort(known)
	median := known[len(known)/2]
	return v.High > spikeRatio*median && v.High-median > spikeLeast, nil
}

// cell is about how far apart a grid's points are at a latitude, in degrees
// north and east.
func cell(g *grib2.Grid, lat float64) (dLat, dLon float64) {
	col, row := g.Ni/2, g.Nj/2
	lat0, lon0 := g.LatLon(col, row)
	latE, lonE := g.LatLon(min(col+1, g.Ni-1), row)
	latN, _ := g.LatLon(col, min(row+1, g.Nj-1))
	cos := math.Max(math.Cos(lat*math.Pi/180), 0.05)
	switch g.Template {
	case 0:
		return math.Abs(latN - lat0), math.Abs(lonE - lon0)
	case 10: // Mercator: as many metres either way
		dLon = math.Abs(lonE - lon0)
		return dLon * cos, dLon
	}
	dLat = math.Hypot(latE-lat0, (lonE-lon0)*math.Cos(lat0*math.Pi/180))
	return dLat, dLat / cos
}

// withoutSpikes takes out seas that stand alone against the hours beside them,
// and counts them.
func withoutSpikes(hours []models.Hour) ([]models.Hour, tally) {
	out := slices.Clone(hours)
	var t tally
	for i := 1; i+1 < len(hours); i++ {
		a, ok1 := hours[i-1].Sea.Get()
		x, ok2 := hours[i].Sea.Get()
		b, ok3 := hours[i+1].Sea.Get()
		beside := max(a, b)
		if ok1 && ok2 && ok3 && float64(x) > spikeRatio*float64(beside) && x-beside > spikeLeast {
			out[i].Sea = models.Unknown[units.Length]()
			t.reject("sea far above the hours beside it")
		}
	}
	return out, t
}
