package store_test

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/store"
)

// writerEnv makes the test binary the process that is killed: it names the
// store.
const writerEnv = "FORECASTD_STORE_TEST_WRITER"

func TestMain(m *testing.M) {
	if path := os.Getenv(writerEnv); path != "" {
		if err := write(path, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	m.Run()
}

// write opens the store and keeps on writing numbered steps, each telling of
// itself once it is kept.
func write(path string, out io.Writer) error {
	ctx := context.Background()
	s, err := store.Open(ctx, store.Options{Path: path})
	if err != nil {
		return err
	}
	before, err := s.Runs(ctx, "step", 100)
	if err != nil {
		return err
	}
	n := 0
	for _, r := range before {
		if r.Outcome == models.RunOK {
			if n, err = strconv.Atoi(r.Error); err != nil {
				return err
			}
			break
		}
	}
	for {
		n++
		if err := step(ctx, s, n); err != nil {
			return fmt.Errorf("step %d: %w", n, err)
		}
		if _, err := fmt.Fprintln(out, n); err != nil {
			return err
		}
	}
}

// step keeps something of each kind, the run last.
func step(ctx context.Context, s *store.Store, n int) error {
	when := evening().Add(time.Duration(n) * time.Minute)
	var obs []models.Observation
	for i := range 20 {
		o := observation(n*20 + i)
		o.From.Detail = strconv.Itoa(n)
		obs = append(obs, o)
	}
	m := message(fmt.Sprintf("%d@x", n), "call")
	id, err0 := s.BeginRun(ctx, models.Run{Job: "step", Due: when, Started: when})
	_, err1 := s.AddObservations(ctx, obs)
	_, err2 := s.AddSeries(ctx, "Port A", series(when, 20))
	err3 := s.Outbox().Put(ctx, m)
	m.State = models.MessageSent
	err4 := s.Outbox().Save(ctx, m)
	_, err5 := s.SyncBookings(ctx, "calendar", "Port A", day(0), []models.Booking{booking("a", day(1)), booking(fmt.Sprintf("b%d", n%5), day(2))}, when)
	err6 := s.EndRun(ctx, models.Run{ID: id, Ended: models.Known(when), Outcome: models.RunOK, Error: strconv.Itoa(n)})
	if n%10 == 0 {
		_, err := s.Prune(ctx, when, store.Retention{MaxBytes: 1 << 20, Contacts: 14})
		err6 = errors.Join(err6, err)
	}
	return errors.Join(err0, err1, err2, err3, err4, err5, err6)
}

// A process that is killed at any instant, while it makes the store, writes or
// prunes, loses nothing that it was told is kept and leaves nothing half done.
// FORECASTD_KILL_ROUNDS asks for more than the usual few rounds.
func TestKilledAtAnyInstant(t *testing.T) {
	rounds := 15
	if s := os.Getenv("FORECASTD_KILL_ROUNDS"); s != "" {
		n, err := strconv.Atoi(s)
		require.NoError(t, err)
		rounds = n
	}
	path := filepath.Join(t.TempDir(), store.FileName)
	random := rand.New(rand.NewPCG(3, 4))
	told, steps := 0, 0
	for round := range rounds {
		// Mostly while it writes; now and then while it opens.
		delay := time.Duration(random.Int64N(int64(60 * time.Millisecond)))
		last, fault := killed(t, path, delay, round%5 == 4)
		require.Empty(t, fault)
		told = max(told, last)
		steps = checkWhole(t, path, told)
	}
	require.GreaterOrEqual(t, steps, rounds-rounds/5, "each writer that is not killed early keeps a step at least")
}

// killed runs the writer, kills it some time after its first step (or its
// start), and returns the last step that it told of.
func killed(t *testing.T, path string, delay time.Duration, early bool) (last int, fault string) {
	t.Helper()
	cmd := exec.CommandContext(t.Context(), os.Args[0])
	cmd.Env = append(os.Environ(), writerEnv+"="+path)
	var stderr strings.Builder
	cmd.Stderr = &stderr
	out, err := cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	lines := bufio.NewScanner(out)
	if early {
		kill := time.AfterFunc(delay, func() { _ = cmd.Process.Kill() })
		defer kill.Stop()
	}
	for lines.Scan() {
		n, err := strconv.Atoi(lines.Text())
		if err != nil {
			break // killed in the middle of the line
		}
		if last == 0 && !early {
			kill := time.AfterFunc(delay, func() { _ = cmd.Process.Kill() })
			defer kill.Stop()
		}
		last = n
	}
	_ = cmd.Wait() // it was killed
	return last, stderr.String()
}

// checkWhole opens the store, which checks the file, and looks for halves. It
// returns the last step that was kept.
func checkWhole(t *testing.T, path string, told int) int {
	t.Helper()
	ctx := t.Context()
	s, err := store.Open(ctx, store.Options{Path: path})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	rows := func(query string) []string {
		got, err := s.Strings(ctx, query)
		require.NoError(t, err)
		return got
	}
	require.Equal(t, []string{"ok"}, rows("PRAGMA integrity_check"))
	require.Empty(t, rows("PRAGMA foreign_key_check"))
	_, err = s.CloseRuns(ctx)
	require.NoError(t, err)
	done := rows("SELECT error FROM runs WHERE outcome = 'ok' ORDER BY id DESC LIMIT 1")
	if len(done) == 0 {
		require.Zero(t, told)
		return 0
	}
	last, err := strconv.Atoi(done[0])
	require.NoError(t, err)
	require.GreaterOrEqual(t, last, told, "what it told of is kept")
	require.Equal(t, []string{strconv.Itoa(last)}, rows("SELECT count(DISTINCT error) FROM runs WHERE outcome = 'ok'"))
	require.Empty(t, rows("SELECT detail FROM observations GROUP BY detail HAVING count(*) <> 20"), "batches are whole")
	require.Empty(t, rows("SELECT id FROM series LEFT JOIN series_hours ON series_id = id GROUP BY id HAVING count(valid_at) <> 20"))
	require.Empty(t, rows(fmt.Sprintf("SELECT id FROM messages WHERE state <> 'sent' AND seq <= %d", last)))
	require.LessOrEqual(t, len(rows("SELECT id FROM bookings WHERE state = 'booked'")), 2, "no booking is doubled")
	require.Equal(t, []string{"a"}, rows("SELECT id FROM bookings WHERE id = 'a'"))
	return last
}
