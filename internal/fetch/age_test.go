package fetch_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// Of several stations that one source tells of, one comes as an old copy: the
// reports before stand for it, and it is told; what is too old is left out.
func TestOnePartIsAnOldCopy(t *testing.T) {
	c := start()
	issued := map[string]time.Time{}
	report := func() fetch.Batch {
		var b fetch.Batch
		for _, id := range []string{"a", "b"} {
			from := models.Provenance{Source: "buoys", Detail: id, Issued: issued[id], Fetched: c.now()}
			b.From = append(b.From, from)
			b.Observations = append(b.Observations, models.Observation{Station: id, At: issued[id], From: from})
		}
		return b
	}
	col := fetch.NewCollector(fetch.CollectorOptions{Now: c.now, Sources: []fetch.Source{
		&source{name: "buoys", maxAge: time.Hour, oldest: 3 * time.Hour, fetch: func(context.Context) (fetch.Batch, error) { return report(), nil }},
	}})
	t0 := c.now()
	issued["a"], issued["b"] = t0, t0
	col.Collect(t.Context())
	c.move(10 * time.Minute)
	issued["a"], issued["b"] = c.now(), t0.Add(-time.Hour)
	got := col.Collect(t.Context())
	require.Equal(t, fetch.Fresh, got.Sources[0].State)
	at := map[string]time.Time{}
	for _, o := range got.Observations {
		at[o.Station] = o.At
	}
	require.Equal(t, map[string]time.Time{"a": c.now(), "b": t0}, at)
	require.Contains(t, got.Notes[0], "buoys b: the answer was made at 21:00:00 UTC on 18 Jan 2027, before the last one")
	c.move(10 * time.Minute)
	issued["a"], issued["b"] = c.now().Add(2*time.Hour), c.now()
	got = col.Collect(t.Context())
	require.Contains(t, got.Notes[0], "2h0m0s ahead of our clock", "doubted and said")
	require.Len(t, got.Observations, 2)
	issued["a"] = c.now()
	require.Empty(t, col.Collect(t.Context()).Notes, "what came from the future makes nothing old")
	c.move(4 * time.Hour)
	got = col.Collect(t.Context())
	require.Equal(t, fetch.Missing, got.Sources[0].State)
	require.Empty(t, got.Observations)
}

// Whatever answers come: what is accepted without a doubt is never older than
// what was before, nor than the limit, nor from the future.
func TestAges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var a fetch.Ages
		now := time.Date(2027, 1, 18, 12, 0, 0, 0, time.UTC)
		limit := time.Duration(rapid.IntRange(1, 300).Draw(t, "limit")) * time.Minute
		var last time.Time
		for range rapid.IntRange(1, 20).Draw(t, "answers") {
			now = now.Add(time.Duration(rapid.IntRange(0, 60).Draw(t, "passed")) * time.Minute)
			made := now.Add(time.Duration(rapid.IntRange(-400, 400).Draw(t, "made")) * time.Minute)
			doubt, err := a.Judge("x", made, now, limit)
			ahead := made.After(now.Add(fetch.Skew))
			require.Equal(t, ahead, doubt != "")
			old := made.Before(last) || now.Sub(made) > limit
			require.Equal(t, !ahead && old, err != nil)
			if doubt == "" && err == nil {
				last = made
			}
		}
	})
}
