package words_test

import (
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
	"forecastd/internal/words"
)

func spanish() words.Teller {
	return words.NewTeller(words.Reader{Language: words.Spanish}, time.UTC, tuesday)
}

func TestVerdictsInSpanish(t *testing.T) {
	for want, change := range map[string]func(*models.Call){
		"cometa, de vuelta antes del mediodía":                             func(*models.Call) {},
		"quedarse en puerto":                                               func(c *models.Call) { c.Tactic = models.TacticStayIn },
		"cometa con helio, según lo reservado":                             func(c *models.Call) { c.Tactic, c.Timing = models.TacticHelium, []models.Timing{models.AsBooked} },
		"cometa, salir más tarde (07:00), de vuelta antes del mediodía":    func(c *models.Call) { c.Timing = []models.Timing{models.StartLater, models.BackEarly} },
		"cometa, de vuelta antes del mediodía (decide el capitán)":         func(c *models.Call) { c.CaptainDecides = true },
		"decide el capitán; si sale: cometa, de vuelta antes del mediodía": func(c *models.Call) { c.CaptainDecides, c.Trip.Kind = true, models.Tournament },
		"cometa o a la vista, de vuelta antes de las 13:30":                func(c *models.Call) { c.Tactic, c.Back = models.TacticEither, models.Known(at(13, 30)) },
		"a la vista, luego cometa, de vuelta antes del mediodía":           func(c *models.Call) { c.Tactic = models.TacticSightKite },
		"cometa, luego a la vista, volver pronto":                          func(c *models.Call) { c.Tactic, c.Back = models.TacticKiteSight, models.Unknown[time.Time]() },
	} {
		c := shortCall()
		change(&c)
		require.Equal(t, want, spanish().Verdict(c))
	}
}

func TestShortInSpanish(t *testing.T) {
	require.Equal(t, "SMALL CRAFT ADVISORY 15:00 a 23:00. Mar 19 ene: COMETA, DE VUELTA ANTES DEL MEDIODIA. Salida 07:00, vuelta 12:00. Probable. "+
		"Dentro de la bocana antes de las 12:00, porque desde las 15:00: Small Craft Advisory. Los avisos oficiales mandan.", spanish().Short(shortCall()))
	c := shortCall()
	c.Warnings = models.Unknown[[]models.Warning]()
	require.True(t, strings.HasPrefix(spanish().Short(c), "AVISOS DESCONOCIDOS: escuche la radio."))
	c.Warnings = models.Known(make([]models.Warning, 40))
	for i := range c.Warnings.Or(nil) {
		c.Warnings.Or(nil)[i] = models.Warning{Event: "Hurricane Force Wind Warning", Onset: at(1, 0)}
	}
	require.LessOrEqual(t, utf8.RuneCountInString(spanish().Short(c)), words.ShortLimit)
	require.Contains(t, spanish().Short(c), "AVISOS OFICIALES")
}

// Two trips of a day, as a letter and as a list of what to load.
func TestTripsInSpanish(t *testing.T) {
	first, second := letterCall(), letterCall()
	first.Trip.End = models.Clock{Hour: 12}
	second.Trip.Start, second.Trip.End = models.Clock{Hour: 13}, models.Clock{Hour: 17}
	trips := []words.Trip{{Call: first, Guests: "los García"}, {Call: second, Out: true}}
	text := spanish().Trips(trips, at(4, 30))
	for _, want := range []string{
		words.DemoNoticeIn(words.Spanish), "Martes 19 de enero de 2027: 2 salidas", "00:00 a 12:00, los García: COMETA, DE VUELTA ANTES DEL MEDIODÍA. Salida 07:00,", "YA EN EL MAR", "Salida 1 de 2, 00:00 a 12:00, los García: the Shelf edge",
	} {
		require.Contains(t, strings.Join(strings.Fields(text), " "), want)
	}
	require.Contains(t, spanish().TripsLoad(trips, first.Load), "[ ] 6 x pinza (tackle station, top drawer)")
	require.Contains(t, spanish().TripsHTML(trips, at(4, 30)), `<html lang="es">`)
}

func TestDaysAndUnitsInSpanish(t *testing.T) {
	teller := words.NewTeller(words.Reader{Language: words.Spanish, Measures: words.Metric}, time.UTC, tuesday)
	require.Equal(t, "martes 19 de enero de 2027", teller.LongDay(tuesday))
	require.Equal(t, "mar 19 de enero", teller.Day(tuesday))
	require.Equal(t, "mié 20 ene", teller.ShortDay(tuesday.AddDays(1)))
	require.Equal(t, "sábado", teller.Weekday(tuesday.AddDays(4)))
	require.Equal(t, "mié 07:00", teller.Time(at(31, 0)))
	require.Equal(t, "3 días", teller.Duration(72*time.Hour))
	require.Equal(t, "2 h 05 min", teller.Duration(125*time.Minute))
	hour := models.Conditions{Hour: models.Hour{Wind: models.Known(units.Speed(6)), Gust: models.Known(units.Speed(9)), WindFrom: models.Known(units.From(225)), Sea: models.Known(units.Length(1.2)), Period: models.Known(5.0)}}
	require.Equal(t, "SW 6-9 m/s", teller.Wind(hour))
	require.Equal(t, "1.2 m 5 s", teller.Sea(hour))
	require.Equal(t, "desconocido", teller.Sea(models.Conditions{}))
}

// A word of ours is told in the reader's language, a captain's own as he has
// it, and the name of an official product with what it means.
func TestWords(t *testing.T) {
	es, en := spanish(), words.NewTeller(words.Reader{Language: "xx"}, time.UTC, tuesday)
	require.Equal(t, words.English, en.Language(), "a language that nobody has")
	require.Equal(t, "cometa con helio", es.Word("helium kite"))
	require.Equal(t, "helium kite", en.Word("helium kite"))
	require.Equal(t, "the red one", es.Word("the red one"))
	require.Equal(t, "Gale Warning (aviso de temporal)", es.Word("Gale Warning"))
	require.Equal(t, "GALE WARNING (aviso de temporal)", es.Product("Gale Warning"))
	require.Equal(t, "Gale Warning", en.Word("Gale Warning"))
	require.Equal(t, "Ashfall Advisory", es.Word("Ashfall Advisory"), "better no gloss than a guess")
}

// A language that no captain has read says so, among the cautions of every
// call and where it is chosen.
func TestAnUnreadLanguageSaysSo(t *testing.T) {
	pt := words.NewTeller(words.Reader{Language: "pt"}, time.UTC, tuesday)
	require.Equal(t, "pipa, de volta até o meio-dia", pt.Verdict(shortCall()))
	cautions := pt.Part(words.PartCautions, shortCall(), at(4, 30))
	require.Len(t, cautions, 1)
	const unread = "tradução automática: nenhum capitão a leu ainda"
	require.Contains(t, cautions[0].Items, unread)
	require.Equal(t, "Português ("+unread+")", words.NameOf("pt"))
	require.Equal(t, "Español", words.NameOf(words.Spanish))
	for _, s := range spanish().Part(words.PartCautions, shortCall(), at(4, 30)) {
		require.NotContains(t, s.Items, "")
		require.NotContains(t, s.Items, unread)
	}
}
