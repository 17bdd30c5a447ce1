package web

import (
	"fmt"
	"sync"
)

// mostKept is how many rendered pages are kept.
const mostKept = 256

// kept are rendered pages, for visitors who are not logged in. When there is
// no room the one kept longest goes.
type kept struct {
	mu    sync.Mutex
	pages map[string][]byte
	order []string
	next  int
}

func (k *kept) get(key string) ([]byte, bool) {
	k.mu.Lock()
	defer k.mu.Unlock()
	b, ok := k.pages[key]
	return b, ok
}

func (k *kept) put(key string, b []byte) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if k.pages == nil {
		k.pages = map[string][]byte{}
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
	k.pages[key] = b
}

// keepAs names a page by all that it follows from. A page with a query of its
// own is not kept, nor one that somebody sees who is logged in.
func (v *view) keepAs(r route) (string, bool) {
	if !r.Keep || v.Role != Nobody {
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
	return fmt.Sprint(v.Request.URL.Path, "\n", v.Port, "\n", b.Version, "\n", v.Reader.Language, "\n", v.Reader.Measures, "\n", v.LookName(), "\n", v.Look, "\n", v.Now.Unix()/60), true
}
