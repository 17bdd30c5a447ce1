package httpx

import (
	"container/list"
	"net/http"
	"strings"
	"sync"
)

// cached is the last good answer to a request, with its validators.
type cached struct {
	key                string
	etag, lastModified string
	header             http.Header
	body               []byte
}

// cache keeps answers that can be asked for conditionally, the least recently
// used ones going first when it is full.
type cache struct {
	maxAll, maxBody int64

	mu    sync.Mutex
	size  int64
	order *list.List // of *cached, most recent first
	byKey map[string]*list.Element
}

func newCache(maxAll, maxBody int64) *cache {
	return &cache{maxAll: maxAll, maxBody: maxBody, order: list.New(), byKey: map[string]*list.Element{}}
}

func (c *cache) get(key string) *cached {
	c.mu.Lock()
	defer c.mu.Unlock()
	el, ok := c.byKey[key]
	if !ok {
		return nil
	}
	c.order.MoveToFront(el)
	return el.Value.(*cached)
}

// put keeps an answer, if it has a validator, is not too big and its service
// does not forbid it. An answer that is not kept drops the older one.
func (c *cache) put(key string, header http.Header, body []byte) {
	e := &cached{
		key: key, etag: header.Get("ETag"), lastModified: header.Get("Last-Modified"),
		header: header, body: body,
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if old, ok := c.byKey[key]; ok {
		c.drop(old)
	}
	noStore := strings.Contains(strings.ToLower(header.Get("Cache-Control")), "no-store")
	if e.etag == "" && e.lastModified == "" || noStore || int64(len(body)) > c.maxBody {
		return
	}
	c.byKey[key] = c.order.PushFront(e)
	c.size += int64(len(body))
	for c.size > c.maxAll {
		c.drop(c.order.Back())
	}
}

func (c *cache) drop(el *list.Element) {
	e := c.order.Remove(el).(*cached)
	delete(c.byKey, e.key)
	c.size -= int64(len(e.body))
}
