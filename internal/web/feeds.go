package web

func (s *Server) feedRoutes() []route { return nil }

func feedTexts() map[string]text { return map[string]text{} }
