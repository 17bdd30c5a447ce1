package app

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"time"

	"forecastd/internal/fetch/coops"
	"forecastd/internal/fetch/gridded"
	"forecastd/internal/fetch/ndbc"
	"forecastd/internal/fetch/nws"
	"forecastd/internal/fetch/replay"
	"forecastd/internal/models"
	"forecastd/internal/words"
)

// Recorded tells what a recording holds.
type Recorded struct {
	// Answers counts what was kept; Bytes are those of the bodies on disk,
	// each body once.
	Answers int
	Bytes   int64
	// Skipped are the answers that were passed on and not kept, and why.
	Skipped []string
	// Missing is which sources gave nothing.
	Missing []models.Gap
	// AsOf is when a replay of it starts.
	AsOf time.Time
	// Called is the call that was made while recording; unknown where the
	// answers were not enough for one, which Missing explains.
	Called models.Opt[Called]
}

// Record makes one call and keeps in an empty or new folder all that the
// public services answered, so that a replay makes the same call again. The
// error is for what kept it from recording at all; no call is no error.
func Record(ctx context.Context, o Options, dir string, req CallRequest) (Recorded, error) {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return Recorded{}, fmt.Errorf("look into the folder of the recording: %w", err)
	}
	if len(entries) > 0 {
		return Recorded{}, fmt.Errorf("%s is not empty: choose a new folder", dir)
	}
	made := errors.Is(err, fs.ErrNotExist)
	hosts, err := publicHosts()
	if err != nil {
		return Recorded{}, err
	}
	about := "What the public services answered to one call."
	if o.Demo {
		about = words.DemoNotice()
	}
	var recorder *replay.Recorder
	o.wrap = func(rt http.RoundTripper, now func() time.Time) (http.RoundTripper, error) {
		var err error
		recorder, err = replay.NewRecorder(replay.RecorderOptions{
			Dir: dir, Transport: rt, Now: now, Hosts: hosts, Licence: licence, About: about, Demo: o.Demo,
		})
		return recorder, err
	}
	a, err := New(o)
	if err != nil {
		return Recorded{}, err
	}
	names, err := a.sourceNames(req)
	if err != nil {
		return Recorded{}, errors.Join(err, discard(dir, made))
	}
	var rec Recorded
	called, callErr := a.CallFor(ctx, req)
	var none *NoCallError
	switch {
	case callErr == nil:
		rec.Called = models.Known(called)
		rec.Missing = called.Outlook.Missing
	case errors.As(callErr, &none):
		rec.Missing, callErr = none.Missing, nil
	}
	// What no source is configured for is no fault of the recording.
	rec.Missing = slices.DeleteFunc(slices.Clone(rec.Missing), func(g models.Gap) bool { return !slices.Contains(names, g.What) })
	err = errors.Join(callErr, ctx.Err(), a.Stop(context.WithoutCancel(ctx)))
	if err == nil {
		err = rec.close(recorder, dir)
	}
	if err != nil {
		return Recorded{}, errors.Join(err, discard(dir, made))
	}
	return rec, nil
}

// sourceNames are those that a call asks.
func (a *App) sourceNames(req CallRequest) ([]string, error) {
	port, ground, err := a.place(req.Port, req.Ground)
	if err != nil {
		return nil, err
	}
	list, err := a.sources(port, ground)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, s := range list {
		names = append(names, s.Name())
	}
	return names, nil
}

// close writes the manifest and counts what it lists.
func (r *Recorded) close(recorder *replay.Recorder, dir string) error {
	r.Skipped = recorder.Skipped()
	if err := recorder.Close(); err != nil {
		return err
	}
	m, err := replay.ReadManifest(os.DirFS(dir))
	if err != nil {
		return err
	}
	r.Answers, r.AsOf = len(m.Entries), m.AsOf
	if r.Answers == 0 {
		why := "no service answered: is there a connection?"
		if len(r.Missing) > 0 {
			why += " " + r.Missing[0].Why
		}
		return errors.New(why)
	}
	counted := map[string]bool{}
	for _, e := range m.Entries {
		if e.File == "" || counted[e.File] {
			continue
		}
		counted[e.File] = true
		info, err := os.Stat(filepath.Join(dir, filepath.FromSlash(e.File)))
		if err != nil {
			return fmt.Errorf("count the recording: %w", err)
		}
		r.Bytes += info.Size()
	}
	return nil
}

// discard takes away what a recording that came to nothing has left in its
// folder, which was empty before.
func discard(dir string, made bool) error {
	if made {
		return os.RemoveAll(dir)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	var errs []error
	for _, e := range entries {
		errs = append(errs, os.Remove(filepath.Join(dir, e.Name())))
	}
	return errors.Join(errs...)
}

// publicHosts lists the hosts of the public services. Nothing else is ever
// recorded.
func publicHosts() ([]string, error) {
	products, err := gridded.Products()
	if err != nil {
		return nil, err
	}
	addresses := []string{nws.Base, ndbc.BaseURL, coops.BaseURL}
	for _, p := range products {
		addresses = append(addresses, p.URL)
		if p.Listing != "" {
			addresses = append(addresses, p.Listing)
		}
	}
	var hosts []string
	for _, s := range addresses {
		u, err := url.Parse(s)
		if err != nil {
			return nil, fmt.Errorf("read the address of a service: %w", err)
		}
		if h := u.Hostname(); !slices.Contains(hosts, h) {
			hosts = append(hosts, h)
		}
	}
	return hosts, nil
}

// licence is under which terms a service's data may be passed on.
func licence(host string) string {
	if host == "data.ecmwf.int" {
		return "CC-BY-4.0, European Centre for Medium-Range Weather Forecasts"
	}
	return "public domain, U.S. government"
}
