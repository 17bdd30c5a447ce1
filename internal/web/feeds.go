package web

// feedRoutes are the addresses of what is not a page: files, the calendar,
// the JSON documents, the track, and what a home screen asks for.
func (s *Server) feedRoutes() []route {
	rows := []route{
		{Pattern: "GET /static/{file...}", Raw: s.serveAsset},
	}
	rows = append(rows, s.calendarRoutes()...)
	rows = append(rows, s.offlineRoutes()...)
	rows = append(rows, s.apiRoutes()...)
	return append(rows, s.trackRoutes()...)
}
