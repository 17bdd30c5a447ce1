package web

import (
	"context"
	"errors"
	"fmt"
	"sync"
)

// mostKept is how many rendered pages are kept.
const mostKept = 256

// rendered is a page as it is written.
type rendered struct {
	page page
	body []byte
}

// kept are rendered pages, for visitors who are not logged in. When there is
// no room the one kept longest goes.
type kept struct {
	mu    sync.Mutex
	pages map[string]keptPage
	order []string
	next  int
	// making are the pages on their way.
	making map[string]*making
}

// keptPage is what is kept under a key: the page of a minute.
type keptPage struct {
	rendered
	minute int64
}

// making is a page on its way; done is closed when the others are set.
type making struct {
	done chan struct{}
	rendered
	err error
}

// errBrokeOff stands for a page whose making came to no end.
var errBrokeOff = errors.New("the making of the page broke off")

// get answers the page of a key and a minute. It is made once, however many
// ask for it at the same time: meanwhile they get that of the minute before,
// or wait where there is none.
func (k *kept) get(ctx context.Context, key string, minute int64, render func() (rendered, error)) (rendered, error) {
	k.mu.Lock()
	one, ok := k.pages[key]
	m := k.making[key]
	if ok && (one.minute == minute || m != nil && one.minute == minute-1) {
		k.mu.Unlock()
		return one.rendered, nil
	}
	if m != nil {
		k.mu.Unlock()
		select {
		case <-m.done:
		case <-ctx.Done():
			return rendered{}, fmt.Errorf("wait for the page: %w", ctx.Err())
		}
		if m.err != nil { // it may be the other visitor's own, who left
			return render()
		}
		return m.rendered, nil
	}
	m = &making{done: make(chan struct{}), err: errBrokeOff}
	if k.making == nil {
		k.making = map[string]*making{}
	}
	k.making[key] = m
	k.mu.Unlock()
	defer func() {
		k.mu.Lock()
		defer k.mu.Unlock()
		delete(k.making, key)
		if m.err == nil && !m.page.Fresh && m.page.Status == 0 {
			k.put(key, keptPage{m.rendered, minute})
		}
		close(m.done)
	}()
	m.rendered, m.err = render()
	return m.rendered, m.err
}

// put keeps a page; k is locked.
func (k *kept) put(key string, one keptPage) {
	if k.pages == nil {
		k.pages = map[string]keptPage{}
	}
	if _, ok := k.pages[key]; !ok {
		if len(k.order) < mostKept {
			k.order = append(k.order, key)
		} else {
			delete(k.pages, k.order[k.next])
			k.order[k.next] = key
			k.next = (k.next + 1) % mostKept
		}
	}
	k.pages[key] = one
}

// keepAs names a page by all that it follows from, but for the minute. A page
// with a query of its own is not kept, nor one that somebody sees who is
// logged in or is told something.
func (v *view) keepAs(r route) (string, bool) {
	if !r.Keep || v.Role != Nobody || v.Flash() != "" {
		return "", false
	}
	for key := range v.query() {
		if key != "port" {
			return "", false
		}
	}
	b, err := v.Board()
	if err != nil {
		return "", false
	}
	return fmt.Sprint(v.Request.URL.Path, "\n", v.Port, "\n", b.Version, "\n", v.Reader.Language, "\n", v.Reader.Measures, "\n", v.LookName(), "\n", v.Look), true
}
