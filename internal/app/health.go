package app

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"forecastd/internal/fetch"
)

// Handler answers people with the pages, and the operator: /healthz while the
// process lives, /readyz when it can do its work, /metrics.
func (d *Daemon) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		e := d.current()
		if e == nil {
			w.Header().Set("Retry-After", "5")
			http.Error(w, errBetween.Error(), http.StatusServiceUnavailable)
			return
		}
		e.pages.ServeHTTP(w, r)
	})
	mux.HandleFunc("GET /healthz", func(w http.ResponseWriter, _ *http.Request) { fmt.Fprintln(w, "alive") })
	mux.HandleFunc("GET /readyz", func(w http.ResponseWriter, r *http.Request) {
		lacks := d.lacks(r.Context())
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		w.Header().Set("Cache-Control", "no-store")
		if len(lacks) > 0 {
			w.WriteHeader(http.StatusServiceUnavailable)
			fmt.Fprintf(w, "not ready\n%s\n", strings.Join(lacks, "\n"))
			return
		}
		fmt.Fprintln(w, "ready")
	})
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		promhttp.HandlerFor(d.Metrics(), promhttp.HandlerOpts{}).ServeHTTP(w, r)
	})
	return mux
}

// lacks tells what keeps the daemon from its work, one line each.
func (d *Daemon) lacks(ctx context.Context) []string {
	e := d.current()
	if e == nil {
		return []string{"the daemon is starting or stopping"}
	}
	var lacks []string
	if e.damage != nil {
		lacks = append(lacks, "the store is damaged, and a new one stands in for it: "+e.damage.Error())
	}
	if err := e.app.store.Ready(ctx); err != nil {
		lacks = append(lacks, err.Error())
	}
	lacks = append(lacks, e.lacksHearing(ctx)...)
	if err := e.clockFit(ctx); err != nil {
		lacks = append(lacks, err.Error())
	}
	for _, p := range e.cfg.Ports {
		look := e.sees.of(p.Name)
		if look.At.IsZero() {
			lacks = append(lacks, p.Name+": the sources were not asked yet")
			continue
		}
		if age := d.now().Sub(look.At); age > 3*e.cfg.Daemon.CollectEvery {
			lacks = append(lacks, fmt.Sprintf("%s: the sources were last asked %s ago", p.Name, age.Round(1e9)))
		}
		for _, s := range look.Sources {
			if required(s.Name) && s.State == fetch.Missing {
				lacks = append(lacks, fmt.Sprintf("%s: %s is missing: %s", p.Name, s.Name, s.Error))
			}
		}
	}
	slices.Sort(lacks)
	return lacks
}

// Metrics looks at everything now and answers its metrics.
func (d *Daemon) Metrics() prometheus.Gatherer {
	if e := d.current(); e != nil {
		d.metrics.look(d, e)
	}
	return d.base
}
