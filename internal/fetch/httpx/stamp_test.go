package httpx_test

import (
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/fetch/httpx"
)

// What a daemon compares its clock with: every answer that carries a Date is
// told, good or not, with the age of a kept copy added.
func TestOnDate(t *testing.T) {
	now := time.Date(2027, 1, 18, 22, 0, 0, 0, time.UTC)
	var date, age, tag string
	status := http.StatusOK
	srv := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h["Date"] = nil // none by itself
		for k, v := range map[string]string{"Date": date, "Age": age, "ETag": tag} {
			if v != "" {
				h.Set(k, v)
			}
		}
		if tag != "" && r.Header.Get("If-None-Match") == tag {
			w.WriteHeader(http.StatusNotModified)
			return
		}
		w.WriteHeader(status)
		io.WriteString(w, "data")
	}))
	defer srv.Close()
	type heard struct {
		host         string
		theirs, ours time.Time
	}
	var got []heard
	c := newClient(t, httpx.Options{Now: func() time.Time { return now }, OnDate: func(host string, theirs, ours time.Time) {
		got = append(got, heard{host, theirs, ours})
	}})
	ask := func() *httpx.Response {
		got = nil
		resp, _ := c.Get(t.Context(), httpx.Request{Source: "test", URL: srv.URL, Attempts: 1, Conditional: true})
		return resp
	}
	tell := func(theirs time.Time) []heard { return []heard{{"127.0.0.1", theirs, now}} }

	date = "Mon, 18 Jan 2027 21:00:00 GMT"
	at := time.Date(2027, 1, 18, 21, 0, 0, 0, time.UTC)
	resp := ask()
	require.Equal(t, tell(at), got)
	require.Equal(t, httpx.Stamp{Date: at}, resp.Stamp)

	age = "3600"
	resp = ask()
	require.Equal(t, tell(now), got, "a copy kept for an hour was made at nine: their clock says ten")
	require.Equal(t, httpx.Stamp{Date: at, Age: time.Hour}, resp.Stamp)

	for _, bad := range []string{"soon", "-5", "1.5"} {
		age = bad
		resp = ask()
		require.Equal(t, httpx.Stamp{Date: at}, resp.Stamp, "age %q says nothing", bad)
	}
	age = "99999999999999999999" // over 64 bits: says nothing
	require.Zero(t, ask().Stamp.Age)
	age = "7, 9"
	require.Equal(t, 7*time.Second, ask().Stamp.Age)

	age, status = "", http.StatusServiceUnavailable
	require.Nil(t, ask())
	require.Equal(t, tell(at), got, "a failure has a clock, too")

	status, tag = http.StatusOK, `"1"`
	ask()
	date = "Mon, 18 Jan 2027 21:59:00 GMT"
	resp = ask()
	require.True(t, resp.NotModified)
	require.Equal(t, time.Date(2027, 1, 18, 21, 59, 0, 0, time.UTC), resp.Stamp.Date, "the service vouched for the old body just now")

	tag = ""
	for _, none := range []string{"", "yesterday"} {
		date = none
		resp = ask()
		require.Empty(t, got)
		require.True(t, resp.Stamp.Date.IsZero())
	}
}
