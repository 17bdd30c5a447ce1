package grib2

import "fmt"

// parameter is a line of code table 4.2.
type parameter struct {
	discipline, category, number int
	name                         string
}

// parameters are the ones that matter at sea, as the code table names them.
func parameters() []parameter {
	return []parameter{
		{0, 0, 0, "temperature"},
		{0, 0, 4, "maximum temperature"},
		{0, 0, 5, "minimum temperature"},
		{0, 0, 6, "dew point temperature"},
		{0, 1, 0, "specific humidity"},
		{0, 1, 1, "relative humidity"},
		{0, 1, 7, "precipitation rate"},
		{0, 1, 8, "total precipitation"},
		{0, 1, 52, "total precipitation rate"},
		{0, 2, 0, "wind direction"},
		{0, 2, 1, "wind speed"},
		{0, 2, 2, "u-component of wind"},
		{0, 2, 3, "v-component of wind"},
		{0, 2, 22, "wind speed (gust)"},
		{0, 3, 0, "pressure"},
		{0, 3, 1, "pressure reduced to MSL"},
		{0, 6, 1, "total cloud cover"},
		{0, 7, 6, "convective available potential energy"},
		{0, 19, 0, "visibility"},
		{0, 19, 2, "thunderstorm probability"},
		{10, 0, 3, "significant height of combined wind waves and swell"},
		{10, 0, 4, "direction of wind waves"},
		{10, 0, 5, "significant height of wind waves"},
		{10, 0, 6, "mean period of wind waves"},
		{10, 0, 7, "direction of swell waves"},
		{10, 0, 8, "significant height of swell waves"},
		{10, 0, 9, "mean period of swell waves"},
		{10, 0, 10, "primary wave direction"},
		{10, 0, 11, "primary wave mean period"},
		{10, 0, 12, "secondary wave direction"},
		{10, 0, 13, "secondary wave mean period"},
		{10, 0, 14, "mean direction of combined wind waves and swell"},
		{10, 0, 15, "mean period of combined wind waves and swell"},
		{10, 0, 34, "peak wave period"},
		{10, 1, 0, "current direction"},
		{10, 1, 1, "current speed"},
		{10, 1, 2, "u-component of current"},
		{10, 1, 3, "v-component of current"},
		{10, 1, 4, "rip current occurrence probability"},
		{10, 2, 0, "ice cover"},
		{10, 3, 0, "water temperature"},
		{10, 3, 1, "deviation of sea level from mean"},
		{10, 4, 3, "salinity"},
	}
}

// Name returns the name of the field's parameter in code table 4.2, or its
// numbers where it is not among the ones that matter here.
func (f *Field) Name() string {
	for _, p := range parameters() {
		if p.discipline == f.Discipline && p.category == f.Category && p.number == f.Number {
			return p.name
		}
	}
	return fmt.Sprintf("parameter %d-%d-%d", f.Discipline, f.Category, f.Number)
}
