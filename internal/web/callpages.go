package web

func (s *Server) callRoutes() []route { return nil }

func callTexts() map[string]text { return map[string]text{} }
