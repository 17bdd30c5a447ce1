package fetch

import (
	"fmt"
	"sync"
	"time"
)

// Skew is how far a service's clock may lie ahead of ours, or of its own
// documents, before what it says of time is doubted.
const Skew = 10 * time.Minute

// Ages remembers when the answers of a source were made, part by part, by the
// service's own word. The zero value remembers nothing. It may be used by
// several goroutines.
type Ages struct {
	mu   sync.Mutex
	last map[string]time.Time
}

// Judge tells what an answer about a part is worth that was made at a time: an
// error where it is older than the last one, or older than the limit (0: there
// is none), and a doubt where it comes from the future. An answer that does
// not say when it was made (zero) is not judged. What is doubted is not
// remembered, so that it does not make those after it look old.
func (a *Ages) Judge(part string, made, now time.Time, limit time.Duration) (doubt string, err error) {
	if made.IsZero() {
		return "", nil
	}
	a.mu.Lock()
	defer a.mu.Unlock()
	if ahead := made.Sub(now); ahead > Skew {
		return fmt.Sprintf("the answer is dated %s, %s ahead of our clock: one of the two is wrong", stamp(made), ahead.Round(time.Minute)), nil
	}
	if last := a.last[part]; made.Before(last) {
		return "", fmt.Errorf("the answer was made at %s, before the last one of %s: an old copy is no answer", stamp(made), stamp(last))
	}
	if age := now.Sub(made); limit > 0 && age > limit {
		return "", fmt.Errorf("the answer was made at %s, %s ago: it counts for %s", stamp(made), age.Round(time.Minute), limit)
	}
	a.remember(part, made)
	return "", nil
}

// Remember notes when an answer was made, as after a restart.
func (a *Ages) Remember(part string, made time.Time) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.remember(part, made)
}

func (a *Ages) remember(part string, made time.Time) {
	if a.last == nil {
		a.last = map[string]time.Time{}
	}
	if made.After(a.last[part]) {
		a.last[part] = made
	}
}

func stamp(t time.Time) string { return t.UTC().Format("15:04:05 UTC on 2 Jan 2006") }
