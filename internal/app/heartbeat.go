package app

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"time"
)

// beatTimeout bounds how long the watcher may take.
const beatTimeout = 10 * time.Second

// beat asks the address of the outside watcher, where one is configured and
// nothing keeps the daemon from its work. What it answers is not looked at: it
// is told that we live, and calls somebody when it hears nothing.
func (e *engine) beat(ctx context.Context) {
	address := e.cfg.Daemon.Heartbeat
	if address == "" || e.d.o.DryRun != nil || e.app.demo {
		return
	}
	if lacks := e.d.lacks(ctx); len(lacks) > 0 {
		e.d.log.WarnContext(ctx, "the watcher is not told that all is well", "lacks", lacks)
		return
	}
	ctx, cancel := context.WithTimeout(ctx, beatTimeout)
	defer cancel()
	err := func() error {
		r, err := http.NewRequestWithContext(ctx, http.MethodGet, address, http.NoBody)
		if err != nil {
			return err
		}
		r.Header.Set("User-Agent", "forecastd/"+e.d.o.Version)
		client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
		resp, err := client.Do(r)
		if err != nil {
			return err
		}
		return resp.Body.Close()
	}()
	if u, ok := errors.AsType[*url.Error](err); ok {
		err = u.Err // the address may be a secret in itself
	}
	if err != nil {
		e.d.log.WarnContext(ctx, "the watcher could not be told that all is well: it will call somebody", "error", err)
	}
}
