package scoring

// KiteLacks names what a kite hour lacks.
func KiteLacks() []string { l := kiteLacks(); return l[:] }

// Causes names what may end a trip, and the one for several together.
func Causes() []string {
	list := []string{"several"}
	for c := byNobody; c <= byNoData; c++ {
		list = append(list, c.String())
	}
	return list
}
