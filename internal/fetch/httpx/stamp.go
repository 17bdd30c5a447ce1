package httpx

import (
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"sync"
	"time"
)

// Stamp is what the headers of an answer say of its age.
type Stamp struct {
	// Date is when the service made the answer, or vouched for it anew, by its
	// own clock; zero where it does not say (RFC9110, 6.6.1).
	Date time.Time
	// Age is how long a cache on the way has kept it; zero where none says so
	// (RFC9111, 5.1).
	Age time.Duration
}

// longestAge is more than any cache keeps an answer.
const longestAge = 100 * 365 * 24 * time.Hour

// readStamp reads Date and Age. What can't be read says nothing.
func readStamp(h http.Header) Stamp {
	s := Stamp{Date: parseHTTPTime(h.Get("Date"))}
	// Several ages in one header: the first counts (RFC9111, 5.1).
	first, _, _ := strings.Cut(h.Get("Age"), ",")
	if n, err := strconv.ParseUint(strings.TrimSpace(first), 10, 64); err == nil {
		s.Age = time.Duration(min(n, uint64(longestAge/time.Second))) * time.Second
	}
	return s
}

// age is how long ago the answer was made, as far as it says.
func (s Stamp) age(now time.Time) time.Duration {
	if s.Date.IsZero() {
		return s.Age
	}
	return max(s.Age, now.Sub(s.Date))
}

// dates remember the Date of the last answer to each request, so that an older
// copy does not take a newer one's place.
type dates struct {
	mu   sync.Mutex
	last map[string]time.Time
}

const (
	// apart is how far the clocks of a service's several machines may differ.
	apart = 2 * time.Minute
	// mostDates is how many requests are remembered; then all are forgotten.
	mostDates = 4096
)

// judge refuses an answer that is older than the request allows, or than the
// last answer to the same request. A Date ahead of our clock is not remembered:
// it would make every later answer look old. Parts of files are not judged
// against each other: what they are of does not change.
func (d *dates) judge(p *prepared, s Stamp, now time.Time) error {
	if age := s.age(now); p.Oldest > 0 && age > p.Oldest {
		return fmt.Errorf("the answer is a copy of %s ago, by its headers: it counts for %s", age.Round(time.Minute), p.Oldest)
	}
	if s.Date.IsZero() || p.Range != nil {
		return nil
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	if last := d.last[p.key]; s.Date.Before(last.Add(-apart)) {
		return fmt.Errorf("the answer is dated %s, before the last one of %s: an old copy is no answer", s.Date.Format(time.RFC3339), last.Format(time.RFC3339))
	}
	if s.Date.After(now.Add(apart)) {
		return nil
	}
	if len(d.last) >= mostDates {
		clear(d.last)
	}
	if s.Date.After(d.last[p.key]) {
		d.last[p.key] = s.Date
	}
	return nil
}
