package fetchtest

import (
	"compress/gzip"
	"crypto/sha256"
	"fmt"
	"io"
	"log"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"forecastd/internal/models"
)

// Fault is a way for a service to fail.
type Fault string

// The ways to fail.
const (
	NotFound    Fault = "not found"
	Forbidden   Fault = "forbidden"
	RateLimited Fault = "rate limited"
	ServerError Fault = "server error"
	Unavailable Fault = "unavailable"
	WebPage     Fault = "web page for data"
	Elsewhere   Fault = "sent to another host"
	BrokenOff   Fault = "broken off"   // fewer bytes than announced
	CutShort    Fault = "cut short"    // half the body, and nothing tells
	Empty       Fault = "empty body"   // 200 and nothing
	Oversized   Fault = "oversized"    // a body that does not end
	Bomb        Fault = "gzip bomb"    // small in transit, huge unpacked
	Garbage     Fault = "random bytes" // the same every time
	OtherData   Fault = "other data"   // well formed, but not what was asked
)

// Faults lists all the ways to fail.
func Faults() []Fault {
	return []Fault{NotFound, Forbidden, RateLimited, ServerError, Unavailable, WebPage, Elsewhere,
		BrokenOff, CutShort, Empty, Oversized, Bomb, Garbage, OtherData}
}

// kinds are the errors that are right for a fault.
func (f Fault) kinds() []models.Kind {
	switch f {
	case NotFound:
		return []models.Kind{models.KindNotFound}
	case Forbidden, Elsewhere:
		return []models.Kind{models.KindRefused}
	case RateLimited:
		return []models.Kind{models.KindRateLimited}
	case ServerError, Unavailable:
		return []models.Kind{models.KindServer}
	case Oversized, Bomb:
		return []models.Kind{models.KindTooLarge}
	}
	return []models.Kind{models.KindBadContent}
}

// server is the service with a switch for its faults.
type server struct {
	*httptest.Server
	transport http.RoundTripper
	service   http.Handler
	oversize  int64
	arrived   chan struct{} // a request hangs

	mu       sync.Mutex
	fault    Fault
	affected func(*http.Request) bool // nil: all
	hanging  bool
	headers  map[string]string // of good answers
	asked    []request
	same     int // answers 304
}

type request struct {
	key, rangeHeader string
	times            int
}

func newServer(t testing.TB, c Case) *server {
	s := &server{service: c.Service, oversize: c.Oversize, arrived: make(chan struct{}, 1)}
	s.Server = httptest.NewUnstartedServer(s)
	s.Config.ErrorLog = log.New(io.Discard, "", 0)
	s.Start()
	tr := &http.Transport{MaxIdleConnsPerHost: 4}
	s.transport = tr
	t.Cleanup(func() {
		tr.CloseIdleConnections()
		s.CloseClientConnections()
		s.Close()
	})
	return s
}

func (s *server) fail(f Fault, affected func(*http.Request) bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fault, s.affected = f, affected
}

// stamp gives the headers that good answers carry from now on.
func (s *server) stamp(h map[string]string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.headers = h
}

// become lets another service answer.
func (s *server) become(h http.Handler) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.service = h
}

func (s *server) hang() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.hanging = true
}

// requests lists the distinct requests in the order they first came.
func (s *server) requests() []string {
	var keys []string
	for _, r := range s.log() {
		keys = append(keys, r.key)
	}
	return keys
}

func (s *server) log() []request {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.asked)
}

func (s *server) unchanged() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.same
}

func requestKey(r *http.Request) string {
	return strings.TrimSpace(r.Method + " " + r.URL.String() + " " + r.Header.Get("Range"))
}

func (s *server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	w.Header()["Date"] = nil // the machine's clock is not the test's
	s.mu.Lock()
	key := requestKey(r)
	if i := slices.IndexFunc(s.asked, func(q request) bool { return q.key == key }); i >= 0 {
		s.asked[i].times++
	} else {
		s.asked = append(s.asked, request{key, r.Header.Get("Range"), 1})
	}
	fault, hanging, service := s.fault, s.hanging, s.service
	for k, v := range s.headers {
		w.Header().Set(k, v)
	}
	if s.affected != nil && !s.affected(r) {
		fault = ""
	}
	s.mu.Unlock()

	if hanging {
		select {
		case s.arrived <- struct{}{}:
		default:
		}
		<-r.Context().Done()
		return
	}
	good := httptest.NewRecorder()
	service.ServeHTTP(good, r)
	if fault == "" {
		s.behave(w, r, good)
		return
	}
	misbehave(w, r, fault, good, s.oversize)
}

// behave gives the service's answer with a validator.
func (s *server) behave(w http.ResponseWriter, r *http.Request, good *httptest.ResponseRecorder) {
	for k, v := range good.Header() {
		w.Header()[k] = v
	}
	if good.Code == http.StatusOK && r.Header.Get("Range") == "" {
		tag := fmt.Sprintf(`"%x"`, sha256.Sum256(good.Body.Bytes()))
		w.Header().Set("ETag", tag)
		if r.Header.Get("If-None-Match") == tag {
			s.mu.Lock()
			s.same++
			s.mu.Unlock()
			w.WriteHeader(http.StatusNotModified)
			return
		}
	}
	w.WriteHeader(good.Code)
	w.Write(good.Body.Bytes())
}

func misbehave(w http.ResponseWriter, r *http.Request, f Fault, good *httptest.ResponseRecorder, oversize int64) {
	const page = "<!DOCTYPE html>\n<html><head><title>Notice</title></head><body><p>Please come back later</p></body></html>\n"
	web := func(status int) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		w.WriteHeader(status)
		io.WriteString(w, page)
	}
	body := good.Body.Bytes()
	copyHeader := func() {
		for k, v := range good.Header() {
			if k != "Content-Length" && k != "Last-Modified" && k != "Etag" {
				w.Header()[k] = v
			}
		}
	}
	switch f {
	case NotFound:
		web(http.StatusNotFound)
	case Forbidden:
		web(http.StatusForbidden)
	case RateLimited:
		w.Header().Set("Retry-After", "120")
		web(http.StatusTooManyRequests)
	case ServerError:
		web(http.StatusInternalServerError)
	case Unavailable:
		web(http.StatusServiceUnavailable)
	case WebPage:
		web(http.StatusOK)
	case Elsewhere:
		http.Redirect(w, r, "http://elsewhere.invalid/data", http.StatusFound)
	case BrokenOff:
		copyHeader()
		w.Header().Set("Content-Length", strconv.Itoa(max(len(body), 2)))
		w.WriteHeader(good.Code)
		w.Write(body[:len(body)/2])
		http.NewResponseController(w).Flush()
		panic(http.ErrAbortHandler)
	case CutShort:
		copyHeader()
		w.WriteHeader(good.Code)
		w.Write(body[:len(body)/2])
	case Empty:
		copyHeader()
		w.WriteHeader(good.Code)
	case Oversized:
		copyHeader()
		w.WriteHeader(good.Code)
		w.Write(body)
		pad(w, oversize)
	case Bomb:
		copyHeader()
		w.Header().Set("Content-Encoding", "gzip")
		w.WriteHeader(good.Code)
		z, err := gzip.NewWriterLevel(w, gzip.BestSpeed)
		if err != nil {
			panic(err)
		}
		z.Write(body)
		pad(z, oversize)
		z.Close()
	case Garbage:
		copyHeader()
		w.WriteHeader(good.Code)
		noise := rand.New(rand.NewPCG(1, 2))
		junk := make([]byte, 3000)
		for i := range junk {
			junk[i] = byte(noise.Uint32())
		}
		w.Write(junk)
	case OtherData:
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(good.Code)
		io.WriteString(w, `{"weights":[12,14,9],"unit":"lb"}`)
	}
}

// pad writes n blanks, or until the client hangs up.
func pad(w io.Writer, n int64) {
	blanks := []byte(strings.Repeat(" ", 1<<16))
	for ; n > 0; n -= int64(len(blanks)) {
		if _, err := w.Write(blanks[:min(n, int64(len(blanks)))]); err != nil {
			return
		}
	}
}
