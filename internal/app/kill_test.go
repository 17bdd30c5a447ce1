package app_test

import (
	"context"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/mail"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"
	_ "time/tzdata"

	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/models"
	"forecastd/internal/store"
)

// Variables that make this test binary the daemon that is killed.
const (
	killState = "FORECASTD_TEST_KILL_STATE"
	killNow   = "FORECASTD_TEST_KILL_NOW"
	killPort  = "FORECASTD_TEST_KILL_PORT"
	killJob   = "FORECASTD_TEST_KILL_JOB"
)

func TestMain(m *testing.M) {
	if os.Getenv(killState) != "" {
		if err := victim(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// killConfig is the boat with a booking on each day and mail to this machine.
func killConfig(port string) (*config.Config, error) {
	var b strings.Builder
	b.WriteString(daemonText + "mail: {host: 127.0.0.1, port: " + port + ", encryption: none, from: Second Light <boat@example.com>}\n")
	b.WriteString("charters:\n  bookings:\n")
	for d := range killDays {
		day := models.Date{Year: 2027, Month: 1, Day: 18}.AddDays(d)
		fmt.Fprintf(&b, "    - {name: party %d, date: %s, start: \"07:00\", end: \"15:00\", guests: 4, contact: party%d@example.com}\n", d, day, d)
	}
	return config.Load("forecastd.yaml", []byte(b.String()))
}

const killDays = 150

// victim is the daemon in a process of its own. It ends once the job is done
// and the outbox is empty.
func victim() error {
	start, err := time.Parse(time.RFC3339, os.Getenv(killNow))
	if err != nil {
		return err
	}
	cfg, err := killConfig(os.Getenv(killPort))
	if err != nil {
		return err
	}
	began := time.Now()
	now := func() time.Time { return start.Add(time.Since(began)).UTC() }
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	d, err := app.StartDaemon(ctx, app.ServeOptions{
		Options: app.Options{Config: cfg, Now: now, Transport: invented{now: now}, Version: "test", Logger: slog.New(slog.NewTextHandler(os.Stderr, nil))},
		State:   os.Getenv(killState), Listen: app.ListenOff,
	})
	if err != nil {
		return err
	}
	st, err := store.Open(ctx, store.Options{Path: filepath.Join(os.Getenv(killState), store.FileName)})
	if err != nil {
		return err
	}
	for {
		done, err := st.LastSuccess(ctx, os.Getenv(killJob), now())
		if err != nil {
			return err
		}
		waiting, err := st.Outbox().Waiting(ctx)
		if err != nil {
			return err
		}
		if at, ok := done.Get(); ok && start.Sub(at) < time.Hour && len(waiting) == 0 {
			break
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(10 * time.Millisecond):
		}
	}
	if err := st.Close(); err != nil {
		return err
	}
	return d.Stop(ctx)
}

// postOffice is a real SMTP server on this machine.
type postOffice struct {
	mu    sync.Mutex
	round int
	got   []posted
	// refuses are addresses that it takes nothing for.
	refuses map[string]bool
	tried   map[string]int
}

type posted struct {
	round   int
	id, to  string
	subject string
}

type postSession struct {
	o  *postOffice
	to string
}

func (s *postSession) Mail(string, *smtp.MailOptions) error { return nil }
func (s *postSession) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.o.mu.Lock()
	defer s.o.mu.Unlock()
	if s.to = to; s.o.refuses[to] {
		s.o.tried[to]++
		return &smtp.SMTPError{Code: 554, EnhancedCode: smtp.EnhancedCode{5, 7, 1}, Message: "not from you"} // RFC 5321, 4.2.3
	}
	return nil
}
func (s *postSession) Reset()        {}
func (s *postSession) Logout() error { return nil }

func (s *postSession) Data(r io.Reader) error {
	m, err := mail.ReadMessage(r)
	if err != nil {
		return err
	}
	if _, err := io.Copy(io.Discard, m.Body); err != nil {
		return err // cut off: not taken over
	}
	s.o.mu.Lock()
	defer s.o.mu.Unlock()
	s.o.got = append(s.o.got, posted{s.o.round, m.Header.Get("Message-ID"), s.to, m.Header.Get("Subject")})
	<-time.After(20 * time.Millisecond) // so that some die between this and our 250
	return nil
}

type unheard struct{}

func (unheard) Printf(string, ...any) {}
func (unheard) Println(...any)        {}

func (o *postOffice) open(t *testing.T) (port string) {
	t.Helper()
	srv := smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &postSession{o: o}, nil }))
	srv.Domain = "mail.example"
	srv.ErrorLog = unheard{} // clients that die in the middle are what this is about
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	done := make(chan struct{})
	go func() {
		defer close(done)
		_ = srv.Serve(l)
	}()
	t.Cleanup(func() {
		_ = srv.Close()
		<-done
	})
	_, port, err = net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

func (o *postOffice) next(round int) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.round = round
}

// A daemon that is killed at any instant, while it fetches, calls, writes and
// sends, loses nothing: each evening and each morning is told, no booking is
// doubled, and no more than the one message in flight goes out again, under
// the same Message-ID. FORECASTD_KILL_ROUNDS says how often it dies.
func TestKilledAtAnyInstant(t *testing.T) {
	rounds := 20
	if n, err := strconv.Atoi(os.Getenv("FORECASTD_KILL_ROUNDS")); err == nil {
		rounds = n
	}
	state := t.TempDir()
	var office postOffice
	port := office.open(t)
	zone, err := time.LoadLocation("America/New_York")
	require.NoError(t, err)
	dice := rand.New(rand.NewPCG(uint64(time.Now().UnixNano()), 7))

	// due are the evenings and mornings in turn.
	day, isEvening, tries := models.Date{Year: 2027, Month: 1, Day: 18}, true, 0
	var keys []string // of what must have been told
	run := func(killAfter time.Duration) (finished bool) {
		job, clock := "morning Port Amparo", models.Clock{Hour: 4, Minute: 40}
		if isEvening {
			job, clock = "evening Port Amparo", models.Clock{Hour: 17}
		}
		tries++
		at := clock.On(day, zone).Add(time.Minute + time.Duration(tries)*3*time.Second)
		var said strings.Builder
		c := exec.Command(os.Args[0], "-test.run=^$")
		c.Env = append(os.Environ(), killState+"="+state, killNow+"="+at.Format(time.RFC3339), killPort+"="+port, killJob+"="+job)
		c.Stderr = &said
		require.NoError(t, c.Start())
		if killAfter > 0 {
			timer := time.AfterFunc(killAfter, func() { _ = c.Process.Kill() })
			defer timer.Stop()
		}
		err := c.Wait()
		if err != nil && (killAfter == 0 || c.ProcessState.Exited()) {
			require.NoError(t, err, "%s", said.String())
		}
		if err != nil {
			return false
		}
		tries = 0
		if isEvening {
			keys = append(keys, "call/Port Amparo/"+day.AddDays(1).String()+"/the captain")
			day = day.AddDays(1)
		} else {
			keys = append(keys, "morning/Port Amparo/"+day.String()+"/the captain")
		}
		isEvening = !isEvening
		return true
	}

	began := time.Now()
	require.True(t, run(0))
	whole := time.Since(began)
	killed := 0
	for r := 1; r <= rounds; r++ {
		office.next(r)
		if !run(1 + time.Duration(dice.Int64N(int64(whole)))) {
			killed++
		}
	}
	office.next(rounds + 1)
	require.True(t, run(0))
	t.Logf("killed %d times in %d rounds, a whole run takes %v, %d deliveries", killed, rounds, whole, len(office.got))
	require.Greater(t, killed, rounds/4)

	// Nothing but the message in flight goes out again.
	seen := map[string]int{} // round of the last delivery
	for i, p := range office.got {
		if last, again := seen[p.id]; again {
			require.NotEqual(t, last, p.round, "%s went out twice in one life", p.id)
			j := i - 1
			for j >= 0 && office.got[j].round == p.round {
				j--
			}
			require.Equal(t, p.id, office.got[j].id, "only the last message before the kill may go out again")
		}
		seen[p.id] = p.round
	}

	// Nothing is lost.
	st, err := store.Open(t.Context(), store.Options{Path: filepath.Join(state, store.FileName)})
	require.NoError(t, err)
	defer st.Close()
	waiting, err := st.Outbox().Waiting(t.Context())
	require.NoError(t, err)
	require.Empty(t, waiting)
	dead, err := st.Outbox().Messages(t.Context(), models.MessageDead, 10)
	require.NoError(t, err)
	require.Empty(t, dead)
	sent, err := st.Outbox().Messages(t.Context(), models.MessageSent, 10000)
	require.NoError(t, err)
	first := map[string]int{}
	for _, m := range sent {
		require.Contains(t, seen, "<"+m.ID+">", "marked as sent but never delivered")
		if m.Reason == models.ReasonFirst {
			first[m.Key]++
		}
	}
	require.Len(t, seen, len(sent), "each message delivered is marked as sent")
	for _, key := range keys {
		require.Equal(t, 1, first[key], key)
	}
	held, err := st.Bookings(t.Context(), "Port Amparo", models.Date{Year: 2027, Month: 1, Day: 1}, models.Date{Year: 2028, Month: 1, Day: 1})
	require.NoError(t, err)
	require.Len(t, held, killDays)
}
