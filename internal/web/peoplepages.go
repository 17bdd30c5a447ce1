package web

// peopleRoutes are the pages by which people say something. What is read is
// open, but for the charters; what is said needs a login.
func (s *Server) peopleRoutes() []route {
	return []route{
		{Pattern: "GET /reports", Page: func(v *view) (page, error) { return s.reportsPage(v, nil) }},
		{Pattern: "POST /reports", Needs: Mate, Form: true, Do: s.report, Again: s.reportsPage},
		{Pattern: "GET /bait", Page: func(v *view) (page, error) { return s.baitPage(v, nil) }},
		{Pattern: "POST /bait", Needs: Mate, Form: true, Do: s.countBait, Again: s.baitPage},
		{Pattern: "GET /log", Page: func(v *view) (page, error) { return s.logPage(v, nil) }},
		{Pattern: "POST /log", Needs: Mate, Form: true, Do: s.writeLog, Again: s.logPage},
		{Pattern: "POST /checkin", Needs: Mate, Form: true, Do: s.checkIn, Again: s.logPage},
		{Pattern: "GET /charters", Needs: Mate, Page: func(v *view) (page, error) { return s.chartersPage(v, nil) }},
		{Pattern: "POST /charters/{id}/move", Needs: Captain, Form: true, Do: s.moveCharter, Again: s.chartersPage},
		{Pattern: "POST /charters/{id}/cancel", Needs: Captain, Form: true, Do: s.cancelCharter, Again: s.chartersPage},
		{Pattern: "POST /drafts/{id}", Needs: Captain, Form: true, Do: s.answerDraft, Again: s.chartersPage},
	}
}

// word tells one of our own words in the reader's language.
func (v *view) word(w string) string { return v.Tell(v.today()).Word(w) }

// say tells a word by the catalogue of the pages, and as it is where it is
// none of ours.
func (v *view) say(prefix, w string) string {
	if told := v.T(prefix + w); told != prefix+w {
		return told
	}
	return w
}
