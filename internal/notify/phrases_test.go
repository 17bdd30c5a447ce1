package notify

import (
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
)

// Both languages have the same phrases with the same places for values.
func TestLanguagesSayTheSame(t *testing.T) {
	places := func(s string) []string {
		list := regexp.MustCompile(`\{\d\}`).FindAllString(s, -1)
		slices.Sort(list)
		return list
	}
	en, es := inEnglish(), inSpanish()
	for k, s := range en {
		other, ok := es[k]
		require.True(t, ok, "%s is missing in Spanish", k)
		require.Equal(t, places(s), places(other), k)
	}
	require.Len(t, es, len(en))
}
