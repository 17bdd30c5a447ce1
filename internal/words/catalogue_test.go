package words

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Both languages have the same phrases with the same places for values. What
// official products mean is told only where it is not told by their names.
func TestLanguagesSayTheSame(t *testing.T) {
	places := func(s string) []string {
		list := regexp.MustCompile(`\{\d\}`).FindAllString(s, -1)
		slices.Sort(list)
		return list
	}
	en, es := catalogue(English), catalogue(Spanish)
	for k, s := range en {
		other, ok := es[k]
		require.True(t, ok, "%s is missing in Spanish", k)
		require.Equal(t, places(s), places(other), k)
	}
	for k := range es {
		_, ok := en[k]
		require.True(t, ok || strings.HasPrefix(k, "event."), "%s is missing in English", k)
	}
}

// No part of a catalogue takes a phrase from another.
func TestNoPhraseIsTwice(t *testing.T) {
	for _, parts := range [][]map[string]string{
		{englishCall(), englishClosings(), englishFactors(), englishGuests(), englishGear(), englishHeads(), englishWords()},
		{spanishCall(), spanishReasons(), spanishClosings(), spanishFactors(), spanishGuests(), spanishGear(), spanishHeads(), spanishWords(), spanishEvents()},
	} {
		n := 0
		for _, p := range parts {
			n += len(p)
		}
		require.Len(t, join(parts...), n)
	}
	words := ownWords()
	slices.Sort(words)
	require.Equal(t, slices.Compact(slices.Clone(words)), words)
}

// Every text of the Spanish is Spanish: it is another than the English but
// for texts without letters and the few that both languages write alike.
func TestSpanishIsNotEnglish(t *testing.T) {
	alike := []string{"input.no", "word.no"}
	letters := regexp.MustCompile(`\p{L}`)
	en, es := catalogue(English), catalogue(Spanish)
	for k, s := range es {
		if !letters.MatchString(strings.ReplaceAll(s, " s", "")) { // "{0} s" is a unit
			continue
		}
		require.Equal(t, slices.Contains(alike, k), s == en[k], "%s: %q", k, s)
	}
}

// Words that only English has, and that none of ours borrow, stand in no
// Spanish text.
func TestSpanishBorrowsNoEnglishWord(t *testing.T) {
	english := regexp.MustCompile(`(?i)\b(the|and|with|kite|wind|seas|back|leave|party|not|for|from|bait|guests?|boat|warning|water|light)\b`)
	for k, s := range catalogue(Spanish) {
		require.False(t, english.MatchString(s), "%s: %q", k, s)
	}
}
