package models_test

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
)

// Forbidden characters by name; the bidirectional ones are those of UAX #9
// (Unicode Standard Annex 9, Bidirectional Algorithm, table 4 and 2.0).
const (
	controls = "\x00\x07\x08\x1b\x7f\u0080\u009b\u009c\u009d"
	turning  = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
	unseen   = "\u00ad\u200b\u2060\ufeff\U000e0041"
)

func TestPlain(t *testing.T) {
	for in, want := range map[string]string{
		"Small Craft Advisory":                         "Small Craft Advisory",
		"Núñez, 4 guests 🎣 Ñandú Ωμέγα":                "Núñez, 4 guests 🎣 Ñandú Ωμέγα",
		"family 👨\u200d👩\u200d👧":                       "family 👨\u200d👩\u200d👧",
		"a" + controls + turning + unseen + "b":        "ab",
		"\x1b]0;title\x07\x1b[31mred":                  "]0;title[31mred",
		"Bcc: all@example.com\r\nSubject: none":        "Bcc: all@example.com Subject: none",
		"one\u2028two\u2029three\u0085four\vfive\fsix": "one two three four five six",
		"tab\there":         "tab here",
		"\xff\xfe cut \xc3": "\ufffd\ufffd cut \ufffd",
		"  much   blank ":   "much blank",
	} {
		require.Equal(t, want, models.PlainLine(in), "%q", in)
	}
	require.Equal(t, "one\ntwo\n\nthree four", models.PlainText("one\r\ntwo\n\rthree\tfour"))
	long := models.PlainLine(strings.Repeat("é", models.MostLine+1))
	require.Equal(t, models.MostLine+1, utf8.RuneCountInString(long))
	require.True(t, strings.HasSuffix(long, "é…"))
	require.Equal(t, models.MostText+1, utf8.RuneCountInString(models.PlainText(strings.Repeat("x", 3*models.MostText))))
}

func FuzzPlain(f *testing.F) {
	for _, s := range []string{"", "SMALL CRAFT ADVISORY\n\n* WHAT...", controls, turning, unseen, "\xff\x1b[2J\r\n", "א\u202e\u200eב"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		line, text := models.PlainLine(s), models.PlainText(s)
		for _, out := range []string{line, text} {
			require.True(t, utf8.ValidString(out))
			for _, r := range out {
				bad := unicode.Is(unicode.Cc, r) || strings.ContainsRune(turning+unseen+"\u2028\u2029", r)
				require.False(t, bad && !(r == '\n' && out == text), "%q holds %U", out, r)
			}
		}
		require.Equal(t, line, models.PlainLine(line), "a clean line stays as it is")
		require.Equal(t, text, models.PlainText(text), "a clean text stays as it is")
		require.LessOrEqual(t, utf8.RuneCountInString(line), models.MostLine+1)
		require.LessOrEqual(t, utf8.RuneCountInString(text), models.MostText+1)
	})
}
