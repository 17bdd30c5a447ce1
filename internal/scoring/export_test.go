package scoring

import "forecastd/internal/models"

// Share is how large a share of some members agrees with a call, and in how
// large a share nothing closes on it while the boat is out.
type Share struct{ Agree, Safe float64 }

// SameCall makes the call of an outlook from its narrow members and asks both
// sets of members about that one call; ok is false where it is to stay in.
func SameCall(o models.Outlook, narrow, wide []models.Member) (n, w Share, ok bool) {
	o.Members = narrow
	s := newSite(o, models.DefaultLimits())
	v := s.view(false)
	if !v.plan.going {
		return n, w, false
	}
	share := func(list []models.Member) Share {
		var members [][]hour
		safe := 0
		for _, m := range list {
			hours := s.work(m.Hours, false, nil)
			members = append(members, hours)
			if s.safe(&v.plan, s.byHour(hours, false, s.official())) {
				safe++
			}
		}
		return Share{s.agreement(&v.plan, v.trip, members, 1), float64(safe) / float64(len(list))}
	}
	return share(narrow), share(wide), true
}

// KiteLacks names what a kite hour lacks.
func KiteLacks() []string { l := kiteLacks(); return l[:] }
