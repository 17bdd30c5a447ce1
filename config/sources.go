package config

import "time"

// Sources says which public services are asked, and how.
type Sources struct {
	// Contact is the e-mail address that the services are told in the
	// User-Agent, so that they can write before they block.
	Contact string
	// The weather service's alerts, raw gridpoints and coastal waters text;
	// the buoys; tides and currents.
	Alerts, Gridpoint, CoastalText, NDBC, COOPS Source
	Gridded                                     Gridded
}

// Source is how one service is asked.
type Source struct {
	Use bool
	// MaxAge is how long the last good answer counts after it was fetched.
	MaxAge time.Duration
}

// Gridded is the source of gridded models.
type Gridded struct {
	Source
	Products []Product
}

// Product is a gridded product.
type Product string

// Gridded products.
const (
	GFS       Product = "gfs"
	GFSWave   Product = "gfs-wave"
	HRRR      Product = "hrrr"
	NBM       Product = "nbm"
	NWPS      Product = "nwps"
	RTOFS     Product = "rtofs"
	ECMWF     Product = "ecmwf"
	ECMWFWave Product = "ecmwf-wave"
)

// Products lists the gridded products that the format knows.
func Products() []Product {
	return []Product{GFS, GFSWave, HRRR, NBM, NWPS, RTOFS, ECMWF, ECMWFWave}
}

func product() kind[Product] { return word("a gridded product", Products()...) }

// DefaultSources returns the sources that give a U.S. boat a call, all on.
func DefaultSources() Sources {
	const day = 24 * time.Hour
	return Sources{
		Alerts:      Source{true, 30 * time.Minute},
		Gridpoint:   Source{true, 12 * time.Hour},
		CoastalText: Source{true, 12 * time.Hour},
		NDBC:        Source{true, 3 * time.Hour},
		COOPS:       Source{true, 14 * day},
		Gridded:     Gridded{Source{true, 18 * time.Hour}, []Product{GFSWave, NWPS}},
	}
}

func readSources(t *table) Sources {
	s := DefaultSources()
	g := t.must("sources", "which services are asked; sources.contact at least")
	if g.vals == nil {
		return s
	}
	s.Contact = need(g, "contact", email())
	s.Alerts = readSource(g, "alerts", "official warnings by zone", s.Alerts)
	s.Gridpoint = readSource(g, "gridpoint", "the weather service's own grid", s.Gridpoint)
	s.CoastalText = readSource(g, "coastal_text", "the coastal waters forecast as text", s.CoastalText)
	s.NDBC = readSource(g, "ndbc", "buoys and coastal stations", s.NDBC)
	s.COOPS = readSource(g, "coops", "tide and current predictions", s.COOPS)

	h := g.group("gridded", "gridded models, read by byte ranges")
	s.Gridded.Source = sourceKeys(h, s.Gridded.Source)
	s.Gridded.Products = each(h, "products", product(), s.Gridded.Products...)
	h.done()
	g.done()
	return s
}

func readSource(g *table, key, what string, def Source) Source {
	h := g.group(key, what)
	s := sourceKeys(h, def)
	h.done()
	return s
}

func sourceKeys(h *table, def Source) Source {
	return Source{
		Use:    want(h, "use", yes(), def.Use),
		MaxAge: want(h, "max_age", span(time.Minute, 60*24*time.Hour), def.MaxAge),
	}
}
