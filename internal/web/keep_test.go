package web

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"
)

func pageOf(words string) rendered { return rendered{body: []byte(words)} }

// Many ask at once: the page is made once, and nobody waits who can have that
// of the minute before.
func TestAPageIsMadeOnceForAll(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var k kept
		made := 0
		going := make(chan struct{})
		slow := func() (rendered, error) {
			made++
			<-going
			return pageOf(fmt.Sprint("made ", made)), nil
		}
		ask := func(minute int64) func() string {
			var got string
			var wait sync.WaitGroup
			wait.Go(func() {
				r, err := k.get(t.Context(), "a", minute, slow)
				got = string(r.body)
				if err != nil {
					got = err.Error()
				}
			})
			return func() string { wait.Wait(); return got }
		}
		first, second := ask(1), ask(1)
		synctest.Wait()
		require.Equal(t, 1, made)
		going <- struct{}{}
		require.Equal(t, "made 1", first())
		require.Equal(t, "made 1", second())

		next := ask(2)
		synctest.Wait()
		require.Equal(t, "made 1", ask(2)(), "the minute before stands in")
		later := ask(3)
		synctest.Wait()
		require.Equal(t, 2, made, "one older than a minute does not, but the one on its way is waited for")
		going <- struct{}{}
		require.Equal(t, "made 2", next())
		require.Equal(t, "made 2", later())
		require.Equal(t, "made 2", ask(2)())
	})
}

func TestWhoWaitsIsNotFailedByAnother(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var k kept
		going := make(chan struct{})
		var wait sync.WaitGroup
		wait.Go(func() {
			_, err := k.get(t.Context(), "a", 1, func() (rendered, error) { <-going; return rendered{}, context.Canceled })
			require.ErrorIs(t, err, context.Canceled)
		})
		synctest.Wait()
		wait.Go(func() {
			r, err := k.get(t.Context(), "a", 1, func() (rendered, error) { return pageOf("mine"), nil })
			require.NoError(t, err)
			require.Equal(t, "mine", string(r.body))
		})
		gone, leave := context.WithCancel(t.Context())
		wait.Go(func() {
			_, err := k.get(gone, "a", 1, func() (rendered, error) { return pageOf("nobody's"), nil })
			require.ErrorIs(t, err, context.Canceled)
		})
		synctest.Wait()
		leave()
		synctest.Wait()
		close(going)
		wait.Wait()
	})
}

func TestWhatMayNotBeKeptIsNot(t *testing.T) {
	var k kept
	for _, p := range []page{{Fresh: true}, {Status: 422}} {
		_, err := k.get(t.Context(), "a", 1, func() (rendered, error) { return rendered{page: p}, nil })
		require.NoError(t, err)
	}
	bad := errors.New("bad")
	_, err := k.get(t.Context(), "a", 1, func() (rendered, error) { return rendered{}, bad })
	require.ErrorIs(t, err, bad)
	require.Panics(t, func() {
		_, _ = k.get(t.Context(), "a", 1, func() (rendered, error) { panic("broken") })
	})
	require.Empty(t, k.making, "the next one may try")
	for i := range mostKept + 3 {
		_, err := k.get(t.Context(), fmt.Sprint(i), 1, func() (rendered, error) { return pageOf("x"), nil })
		require.NoError(t, err)
	}
	require.Len(t, k.pages, mostKept)
	require.NotContains(t, k.pages, "2", "the one kept longest goes")
	require.Contains(t, k.pages, "3")
}
