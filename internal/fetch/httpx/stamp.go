package httpx

import (
	"net/http"
	"strconv"
	"strings"
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
