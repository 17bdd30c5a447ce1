package web

func (s *Server) peopleRoutes() []route { return nil }

func peopleTexts() map[string]text { return map[string]text{} }
