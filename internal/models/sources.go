package models

// Names of the sources that people read of, and that rooms look for which do
// not fetch: they stand here once. A gridded product has the name of its row.
const (
	SourceAlerts      = "nws alerts"       // official warnings
	SourceGridpoint   = "nws gridpoint"    // the official forecast
	SourceCoastalText = "nws coastal text" // the coastal waters forecast
	SourceStations    = "ndbc"             // buoys and coastal stations
	SourceTides       = "coops"            // tides, and the stream in the inlet
)
