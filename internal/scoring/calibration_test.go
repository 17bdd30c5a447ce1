package scoring

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/outlook"
)

// truths are how many days are drawn that may come instead of one forecast
// day: several, so that less hangs on the draw.
const truths = 24

// sizes are how large the errors of what comes are, over what is assumed:
// assumed rightly, 1.5 times too large, 1.5 times too small.
var sizes = []struct {
	name  string
	times float64
}{{"right", 1}, {"too large", 1 / 1.5}, {"too small", 1.5}}

// questions are the three answers of a day on which the boat goes, of which
// the first is asked of every day, and the one of a day on which it stays in.
var questions = []string{"runs", "hours", "tactic", "stays"}

var wordsOf = []models.Confidence{models.Doubtful, models.TossUp, models.Likely, models.Sure}

// tally is what was said of days against how often it came true.
type tally struct {
	Days int     `json:"days"`
	Said float64 `json:"said"` // mean share
	Came float64 `json:"came"` // of the truths
	// Error is the standard error of came less said: the days are apart from
	// each other, the truths of one day are not.
	Error float64 `json:"error"`

	sum, square float64 // of came less said, by day
}

func (t *tally) add(said, came float64) {
	t.Days++
	t.Said, t.Came = t.Said+said, t.Came+came
	t.sum, t.square = t.sum+came-said, t.square+(came-said)*(came-said)
}

func (t *tally) settle() {
	if t.Days == 0 {
		return
	}
	n := float64(t.Days)
	t.Said, t.Came = t.Said/n, t.Came/n
	t.Error = math.Sqrt(max(t.square/n-t.sum/n*t.sum/n, 0) / n)
}

func (t *tally) off() float64 { return t.Came - t.Said }

// reliable is how one answer stood against what came.
type reliable struct {
	Question string `json:"question"`
	Errors   string `json:"errors"`
	// Words are by the word said, Tenths by tenths of the share.
	Words  map[models.Confidence]*tally `json:"words"`
	Tenths []*tally                     `json:"tenths"`
}

// calibration is what the figure is drawn from.
type calibration struct {
	Days    int         `json:"days"`
	Truths  int         `json:"truths"`
	Going   int         `json:"going"`
	Answers []*reliable `json:"answers"`
}

// lived is a day called, and how often each answer came true.
type lived struct {
	going bool
	said  answers
	came  []answers // by size of the errors
}

// answers are the shares of the questions.
type answers [4]float64

// asked tells whether a question is asked of a day.
func (l *lived) asked(question int) bool {
	return question == 0 || l.going == (question < 3)
}

// live calls a day and lets it come.
func live(seed uint64) lived {
	w := makeWorld(seed)
	o := outlook.Build(w.in)
	s := newSite(o, models.DefaultLimits())
	v := s.view(false)
	var c models.Call
	s.answer(&c, v)
	out := lived{going: v.plan.going, said: answers{c.Answers.Runs.Share, c.Answers.Hours.Share, c.Answers.Tactic.Share, c.Answers.Hours.Share}}
	for k, size := range sizes {
		dice := rand.New(rand.NewPCG(uint64(1000+k), seed))
		lists := make([][]models.Hour, truths)
		for i := range lists {
			lists[i] = w.comes(dice, size.times, o.Middle.Hours)
		}
		out.came = append(out.came, s.trueIn(v, lists))
	}
	return out
}

// trueIn is how often the answers come true, by the rule by which a course is
// counted.
func (s *site) trueIn(v *view, lists [][]models.Hour) answers {
	s.draws, s.drawn = outlook.DrawsOf(outlook.Courses), len(lists) // nothing is unknown that they would fill in
	there := *v
	there.courses = s.judgeAll(lists, v.hours)
	a, n := s.count(&there), float64(len(lists))
	hours := float64(a.Hours.Courses) / n
	return answers{float64(a.Runs.Courses) / n, hours, float64(a.Tactic.Courses) / n, hours}
}

// calibrate lives so many days.
func calibrate(days int) calibration {
	out := make([]lived, days)
	var wait sync.WaitGroup
	for k := range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := k; i < days; i += runtime.GOMAXPROCS(0) {
				out[i] = live(uint64(i))
			}
		})
	}
	wait.Wait()
	c := calibration{Days: days, Truths: truths}
	for _, o := range out {
		if o.going {
			c.Going++
		}
	}
	for k, size := range sizes {
		for q, name := range questions {
			r := &reliable{Question: name, Errors: size.name, Words: map[models.Confidence]*tally{}}
			for _, w := range wordsOf {
				r.Words[w] = &tally{}
			}
			for range 10 {
				r.Tenths = append(r.Tenths, &tally{})
			}
			for _, o := range out {
				if !o.asked(q) {
					continue
				}
				r.Words[confidence(o.said[q])].add(o.said[q], o.came[k][q])
				r.Tenths[min(int(10*o.said[q]), 9)].add(o.said[q], o.came[k][q])
			}
			for _, t := range r.Words {
				t.settle()
			}
			for _, t := range r.Tenths {
				t.settle()
			}
			c.Answers = append(c.Answers, r)
		}
	}
	return c
}

// How many days are lived: all of them by make calibrate, which keeps what it
// found for the figure, and the first of them else.
const (
	allDays   = 2000
	someDays  = 600
	calibrant = "FORECASTD_CALIBRATE"
)

// few is how many days a word must have been said on to be held to it: the
// mean of fewer hangs on the draw.
const few = 40

var kept = filepath.Join("testdata", "calibration.json")

// TestACallCanBeTakenAtItsWord lives days of a world whose errors are those
// that the courses assume: each answer comes true as often as it says, within
// three points for each word (design.md 5 and 6). On fewer days the draw adds
// to the three points, as much as its own error tells. Errors of another size
// show.
func TestACallCanBeTakenAtItsWord(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("hundreds of days: runs without -short")
	}
	days, all := someDays, os.Getenv(calibrant) != ""
	if all {
		days = allDays
	}
	c := calibrate(days)
	for _, r := range c.Answers {
		for _, w := range wordsOf {
			x := r.Words[w]
			if x.Days > 0 {
				t.Logf("errors %-9s %-6s %-8s %4d days: said %.3f, came %.3f, %+.3f ± %.3f", r.Errors, r.Question, w, x.Days, x.Said, x.Came, x.off(), x.Error)
			}
			if r.Errors != "right" || x.Days < few {
				continue
			}
			within := 0.03
			if !all {
				within += 2 * x.Error
			} else {
				require.Less(t, x.Error, 0.02, "%s, %s: the draw alone", r.Question, w)
			}
			require.InDelta(t, x.Said, x.Came, within, "%s, %s, over %d days", r.Question, w, x.Days)
		}
	}
	// What is called likely comes oftener where the errors were assumed too
	// large, and less often where they were assumed too small.
	for _, question := range []string{"runs", "hours"} {
		right, large, small := c.of(question, "right"), c.of(question, "too large"), c.of(question, "too small")
		for _, w := range []models.Confidence{models.Likely, models.Sure} {
			require.Greater(t, large.Words[w].off(), right.Words[w].off()+0.01, "%s, %s", question, w)
			require.Less(t, small.Words[w].off(), right.Words[w].off()-0.03, "%s, %s", question, w)
		}
		require.Greater(t, large.Words[models.Likely].off(), 0.03, question)
		require.Less(t, small.Words[models.Likely].off(), -0.05, question)
	}
	if all {
		b, err := json.MarshalIndent(c, "", " ")
		require.NoError(t, err)
		require.NoError(t, os.MkdirAll(filepath.Dir(kept), 0o755))
		require.NoError(t, os.WriteFile(kept, append(b, '\n'), 0o644))
	}
	stillSo(t, c)
}

// stillSo holds what is kept for the figure to what comes out now.
func stillSo(t *testing.T, c calibration) {
	const cure = "the courses or the rules have changed since the figure was made: run make calibrate figures"
	b, err := os.ReadFile(kept)
	require.NoError(t, err, cure)
	var before calibration
	require.NoError(t, json.Unmarshal(b, &before))
	require.Equal(t, allDays, before.Days)
	require.InDelta(t, float64(before.Going)/float64(before.Days), float64(c.Going)/float64(c.Days), 0.08, cure)
	for _, r := range before.Answers {
		now := c.of(r.Question, r.Errors)
		for _, w := range wordsOf {
			x, y := r.Words[w], now.Words[w]
			if y.Days < few {
				continue
			}
			require.InDelta(t, x.off(), y.off(), 0.01+3*y.Error, "%s, %s, errors %s: %s", r.Question, w, r.Errors, cure)
		}
	}
}

func (c *calibration) of(question, errors string) *reliable {
	for _, r := range c.Answers {
		if r.Question == question && r.Errors == errors {
			return r
		}
	}
	return nil
}
