package app_test

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/app"
	"forecastd/internal/models"
)

// A link of a message works once, whoever presses it how often at once, and
// not at all when it was tampered with or the key that signed it is gone.
func TestALinkIsWorthOneUse(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		now := shiftedClock(evening().Add(-time.Hour))
		bag := &mailbag{now: now}
		o := serveOptions(t, nil, now, closedFrom(t, now, 13), bag)
		o.Config = loaded(t, daemonText+twoTrips+"pages: {address: \"https://boat.example\"}\n")
		d := start(t, o)
		time.Sleep(3 * time.Hour)
		drafts := bag.of(models.NoticeDraft)
		require.NotEmpty(t, drafts)
		one := linkIn(t, drafts[0].Text)

		const link = "https://boat.example/link/"
		token := strings.TrimPrefix(one, link)
		for i := range token {
			other := byte('A')
			if token[i] == other {
				other = 'B'
			}
			if i == len(token)-1 {
				continue // the last character holds bits that say nothing
			}
			code, _ := browse(t, d, http.MethodPost, link+token[:i]+string(other)+token[i+1:])
			require.Equal(t, http.StatusGone, code, "tampered with at %d", i)
		}
		code, _ := browse(t, d, http.MethodPost, link+token[:strings.LastIndexByte(token, '.')+1])
		require.Contains(t, []int{http.StatusGone, http.StatusNotFound}, code, "unsigned")

		// Under another key it is nobody's.
		key := filepath.Join(o.State, "forecastd.key")
		kept, err := os.ReadFile(key)
		require.NoError(t, err)
		halt(t, d)
		require.NoError(t, os.Remove(key))
		d = start(t, o)
		for _, method := range []string{http.MethodGet, http.MethodPost} {
			code, _ := browse(t, d, method, one)
			require.Equal(t, http.StatusGone, code, "signed by another key")
		}
		halt(t, d)
		require.NoError(t, os.WriteFile(key, kept, 0o600))
		d = start(t, o)
		defer halt(t, d)
		require.Empty(t, bag.of(models.NoticeGuests))

		var mu sync.Mutex
		var all sync.WaitGroup
		answers := map[int]int{}
		for range 12 {
			all.Go(func() {
				code, _ := browse(t, d, http.MethodPost, one)
				mu.Lock()
				defer mu.Unlock()
				answers[code]++
			})
		}
		all.Wait()
		require.Equal(t, map[int]int{http.StatusOK: 1, http.StatusGone: 11}, answers)
		time.Sleep(time.Hour)
		require.Len(t, bag.of(models.NoticeGuests), 1)
		code, _ = browse(t, d, http.MethodPost, one)
		require.Equal(t, http.StatusGone, code, "replayed")
	})
}

// The daemon answers what its table has and nothing else: no profiler, no
// files, no folder above.
func TestTheDaemonAnswersNothingElse(t *testing.T) {
	d := demoDaemon(t)
	v := visit(t, d)
	host := strings.TrimPrefix(v.base, "http://")
	for _, path := range []string{
		"/debug/pprof/", "/debug/pprof/heap", "/debug/vars", "/debug/requests", "/.git/config", "/forecastd.db", "/forecastd.key", "/forecastd.yaml",
		"/../../etc/passwd", "/static/../../../etc/passwd", "/..%2f..%2fetc%2fpasswd", "/static/..%5c..%5cetc", "/static//etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "//etc/passwd",
	} {
		c, err := net.Dial("tcp", host)
		require.NoError(t, err)
		_, err = fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n", path, host) // as it is: clients tidy paths
		require.NoError(t, err)
		resp, err := http.ReadResponse(bufio.NewReader(c), nil)
		require.NoError(t, err)
		body, err := io.ReadAll(resp.Body)
		require.NoError(t, err)
		require.NoError(t, c.Close())
		require.NotEqual(t, http.StatusOK, resp.StatusCode, path)
		require.NotContains(t, string(body), "root:", path)
		require.NotContains(t, string(body), "goroutine", path)
		require.False(t, strings.HasPrefix(resp.Header.Get("Location"), "//"), path)
	}
	for _, path := range []string{"/", "/days", "/day/2027-01-19", "/hours/2027-01-19", "/charters", "/log", "/reports", "/bait", "/print", "/sources", "/calendar.ics", "/api/v1/call", "/api/v1/days", "/metrics", "/readyz"} {
		_, body := v.get(path)
		require.NotContains(t, body, "party of four", path)
	}
}

// Hundreds of connections that say nothing, little, or do not listen keep
// nobody else waiting, and are given up.
func TestSlowConnectionsKeepNobodyWaiting(t *testing.T) {
	d := demoDaemon(t, func(o *app.ServeOptions) { o.Listen = "127.0.0.1:0" })
	addr := d.Addr()
	begin := []string{
		"", // nothing at all
		"GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: ", // a header that never ends
		"POST /reports HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 5000\r\n\r\nsay=", // a form that never ends
		strings.Repeat("GET /day/2027-01-19 HTTP/1.1\r\nHost: localhost\r\n\r\n", 40),                                                      // answers that nobody reads
	}
	var slow []net.Conn
	defer func() {
		for _, c := range slow {
			_ = c.Close()
		}
	}()
	for i := range 400 {
		c, err := net.Dial("tcp", addr)
		require.NoError(t, err)
		slow = append(slow, c)
		_, err = io.WriteString(c, begin[i%len(begin)])
		require.NoError(t, err)
	}
	client := &http.Client{Timeout: 10 * time.Second}
	for range 5 {
		resp, err := client.Get("http://" + addr + "/days")
		require.NoError(t, err)
		_, err = io.Copy(io.Discard, resp.Body)
		require.NoError(t, err)
		require.NoError(t, resp.Body.Close())
		require.Equal(t, http.StatusOK, resp.StatusCode)
	}
	// A header has ten seconds.
	require.NoError(t, slow[1].SetReadDeadline(time.Now().Add(15*time.Second)))
	_, err := io.Copy(io.Discard, slow[1])
	require.NotErrorIs(t, err, os.ErrDeadlineExceeded, "the daemon gives it up by itself")
}
