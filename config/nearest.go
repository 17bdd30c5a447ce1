package config

import "strings"

// nearest returns the known word that a mistyped one is closest to, or "".
func nearest(word string, known []string) string {
	best, least := "", 3
	for _, k := range known {
		if d := distance(strings.ToLower(word), strings.ToLower(k)); d < least && d < max(len(k)/2, 2) {
			best, least = k, d
		}
	}
	return best
}

// distance counts the letters to insert, drop, change or swap with their
// neighbour to turn a into b (optimal string alignment).
func distance(a, b string) int {
	s, u := []rune(a), []rune(b)
	if len(s) > 64 || len(u) > 64 {
		return len(s) + len(u)
	}
	d := make([][]int, len(s)+1)
	for i := range d {
		d[i] = make([]int, len(u)+1)
		d[i][0] = i
	}
	for j := range d[0] {
		d[0][j] = j
	}
	for i := 1; i <= len(s); i++ {
		for j := 1; j <= len(u); j++ {
			cost := 1
			if s[i-1] == u[j-1] {
				cost = 0
			}
			d[i][j] = min(d[i-1][j]+1, d[i][j-1]+1, d[i-1][j-1]+cost)
			if i > 1 && j > 1 && s[i-1] == u[j-2] && s[i-2] == u[j-1] {
				d[i][j] = min(d[i][j], d[i-2][j-2]+1)
			}
		}
	}
	return d[len(s)][len(u)]
}
