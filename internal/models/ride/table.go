// Package ride computes how the sea treats the people aboard: the captain's
// table of limits by boat and party, which decides, and beside it vertical
// motion, the likely share of guests unwell and the published cautions on
// breaking waves.
package ride

import (
	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// Limits are significant heights of the sea that bound a ride: below Easy it
// is easy, below Talk ok, below CallOff rough, from CallOff on no.
type Limits struct {
	Easy, Talk, CallOff units.Length
}

// Table returns the starting limits of a boat and party: common practice, no
// source, and the captain's to change. See Base and For.
func Table(kind models.BoatKind, length units.Length, party models.Party) Limits {
	return Base(kind, length).For(party)
}

// TableOf is Table with the captain's own numbers in place of the boat's,
// where he gives them.
func TableOf(kind models.BoatKind, length units.Length, party models.Party, own models.Limits) Limits {
	return Base(kind, length).Override(own.RideEasy, own.RideTalk, own.RideOff).For(party)
}

// Base returns the limits of a boat with guests who know the sea.
//
//	                        easy below   talk from   off from
//	centre console to 30 ft    2 ft         3 ft        4 ft
//	centre console over 30 ft  3 ft         4 ft        6 ft
//	sportfish from 40 ft       4 ft         5 ft        7 ft
//	sportfish over 50 ft       5 ft         6 ft        8 ft
//
// A sportfish under 40 ft takes the row of a centre console of its length. A
// boat under 25 ft, shorter than the table goes, takes one foot off the first
// row. Common practice, no source.
func Base(kind models.BoatKind, length units.Length) Limits {
	const ft = units.Foot
	big := kind == models.Sportfish
	switch {
	case big && length > 50*ft:
		return Limits{5 * ft, 6 * ft, 8 * ft}
	case big && length >= 40*ft:
		return Limits{4 * ft, 5 * ft, 7 * ft}
	case length > 30*ft:
		return Limits{3 * ft, 4 * ft, 6 * ft}
	case length >= 25*ft:
		return Limits{2 * ft, 3 * ft, 4 * ft}
	}
	return Limits{1 * ft, 2 * ft, 3 * ft}
}

// Override puts the captain's own limits in place of those he gives, and
// keeps the three in order: the captain's word moves the other limits.
func (l Limits) Override(easy, talk, off models.Opt[units.Length]) Limits {
	l = Limits{easy.Or(l.Easy), talk.Or(l.Talk), off.Or(l.CallOff)}
	if off.Known() {
		l.Talk = min(l.Talk, l.CallOff)
	} else {
		l.CallOff = max(l.CallOff, l.Talk)
	}
	if easy.Known() && !talk.Known() {
		l.Talk = max(l.Talk, min(l.Easy, l.CallOff))
	}
	l.Easy = min(l.Easy, l.Talk)
	return l
}

// For moves the limits one band lower for a party with a child or a
// first-timer: what is ok for others is rough for them, what is rough is no.
// Their own easy limit stands one band under the old one, but not under half
// of it. Other parties keep the table. An unknown word counts as family.
func (l Limits) For(party models.Party) Limits {
	if party == models.Experienced || party == models.Mixed {
		return l
	}
	return Limits{
		Easy:    max(l.Easy/2, l.Easy-(l.Talk-l.Easy)),
		Talk:    l.Easy,
		CallOff: l.Talk,
	}
}

// ShortPeriod is the period, in seconds, under which a sea is a foot steeper
// than its height.
const ShortPeriod = 5.0

// Judge returns the ride in a sea of significant height and peak period in
// seconds. The table decides from UsualFrom to UsualTo. A sea of another period
// counts as one as high as makes as many guests unwell there, and moves the ride
// by one band at most: a long swell is kinder, a short chop worse. Under ShortPeriod
// one foot comes off every limit besides. A period that is unknown counts as
// short, since unknown is never taken as good.
func Judge(l Limits, by Scale, sea units.Length, period models.Opt[float64]) models.Ride {
	table := l.band(sea)
	felt := l.band(units.Length(by.At(period)) * sea)
	r := min(max(felt, table-1), table+1)
	if t, ok := period.Get(); !ok || t < ShortPeriod {
		r = max(r, l.band(sea+1*units.Foot))
	}
	return r
}

// band is the table's ride at a height.
func (l Limits) band(sea units.Length) models.Ride {
	// A forecast of 3 ft is read from metres and back: a tenth of a
	// millimetre keeps it on its limit.
	switch h := sea + 1e-4; {
	case h < l.Easy:
		return models.RideEasy
	case h < l.Talk:
		return models.RideOK
	case h < l.CallOff:
		return models.RideRough
	}
	return models.RideNo
}
