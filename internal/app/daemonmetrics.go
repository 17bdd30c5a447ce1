package app

import (
	"context"
	"errors"
	"strconv"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
)

// daemonMetrics are those that outlive a reload.
type daemonMetrics struct {
	build, age, missing *prometheus.GaugeVec
	skipped             *prometheus.GaugeVec
	calls               *prometheus.CounterVec
	agreement           *prometheus.GaugeVec
	windBias, windError *prometheus.GaugeVec
	windPairs           *prometheus.GaugeVec
	reload, reloadTime  prometheus.Gauge
	size, dead, people  prometheus.Gauge
	trouble             *prometheus.GaugeVec
	faults              *prometheus.CounterVec
}

func newDaemonMetrics(r prometheus.Registerer, version string) (*daemonMetrics, error) {
	gauge := func(name, help string) prometheus.Gauge {
		return prometheus.NewGauge(prometheus.GaugeOpts{Name: name, Help: help})
	}
	gauges := func(name, help string, labels ...string) *prometheus.GaugeVec {
		return prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: name, Help: help}, labels)
	}
	m := &daemonMetrics{
		build:   gauges("forecastd_build_info", "Always 1, with the version of the program.", "version"),
		age:     gauges("forecastd_source_age_seconds", "Age of the answer of a source that is in use, by port; a source that is missing has none.", "port", "source"),
		missing: gauges("forecastd_source_missing", "1 where a source has no answer that counts, else 0, by port.", "port", "source"),
		skipped: gauges("forecastd_source_notes", "Notes on what was skipped in the last answer of a source, by port.", "port", "source"),
		calls: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_calls_total", Help: "Calls made, by port and tactic.",
		}, []string{"port", "tactic"}),
		agreement: gauges("forecastd_call_agreement_ratio", "Share of the members that agree with the last call made, by port.", "port"),
		windBias: gauges("forecastd_wind_bias_meters_per_second",
			"Mean of forecast minus measured wind at 10 m, by port, ground, source and day of lead (1: up to 24 h ahead).", "port", "ground", "source", "lead_day"),
		windError: gauges("forecastd_wind_absolute_error_meters_per_second",
			"Mean of how far the forecast was off the measured wind at 10 m, by port, ground, source and day of lead.", "port", "ground", "source", "lead_day"),
		windPairs: gauges("forecastd_wind_error_pairs",
			"Hours of forecast that met a report of the station, which the errors of the wind rest on, by port, ground, source and day of lead.", "port", "ground", "source", "lead_day"),
		reload:     gauge("forecastd_config_last_reload_successful", "1 where the last configuration read was taken, else 0."),
		reloadTime: gauge("forecastd_config_last_reload_success_timestamp_seconds", "When a configuration was last taken."),
		size:       gauge("forecastd_store_bytes", "Bytes of the store in use."),
		dead:       gauge("forecastd_outbox_dead_messages", "Messages kept that were given up, so that nobody was told; at most 1000 are counted."),
		people:     gauge("forecastd_people_reachable", "People named in the configuration that a channel leads to."),
	}
	m.trouble = gauges("forecastd_trouble", "1 where something is wrong with the service that people are told of, else 0, by port and name.", "port", "trouble")
	m.faults = prometheus.NewCounterVec(prometheus.CounterOpts{
		Name: "forecastd_source_faults_total", Help: "Answers of a source that could not be used, by port, source and kind of fault.",
	}, []string{"port", "source", "kind"})
	var errs []error
	for _, c := range []prometheus.Collector{collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}), m.trouble, m.faults, m.build, m.age, m.missing, m.skipped, m.calls, m.agreement, m.windBias, m.windError, m.windPairs, m.reload, m.reloadTime, m.size, m.dead, m.people} {
		errs = append(errs, r.Register(c))
	}
	m.build.WithLabelValues(version).Set(1)
	return m, errors.Join(errs...)
}

func (m *daemonMetrics) reloaded(now time.Time, ok bool) {
	m.reload.Set(0)
	if ok {
		m.reload.Set(1)
		m.reloadTime.Set(float64(now.Unix()))
	}
}

// fetched counts what of a collection could not be used.
func (m *daemonMetrics) fetched(port string, c fetch.Collection) {
	for _, s := range c.Sources {
		if s.Asked && s.Err != nil {
			kind := models.KindServer
			if e, ok := errors.AsType[*models.Error](s.Err); ok {
				kind = e.Kind
			}
			m.faults.WithLabelValues(port, s.Name, string(kind)).Inc()
		}
	}
}

func (m *daemonMetrics) called(port string, c models.Call) {
	m.calls.WithLabelValues(port, string(c.Tactic)).Inc()
	m.agreement.WithLabelValues(port).Set(c.Agreement)
}

// learned tells how wrong the wind of each source has been; what was told
// before is forgotten.
func (m *daemonMetrics) learned(all []Learned) {
	for _, v := range []*prometheus.GaugeVec{m.windBias, m.windError, m.windPairs} {
		v.Reset()
	}
	for _, l := range all {
		for _, x := range l.Lessons {
			if x.Wind.Hours == 0 {
				continue
			}
			labels := []string{l.Port, l.Ground, x.Source, strconv.Itoa(x.Day)}
			m.windBias.WithLabelValues(labels...).Set(x.Wind.Mean)
			m.windError.WithLabelValues(labels...).Set(x.Wind.Absolute)
			m.windPairs.WithLabelValues(labels...).Set(float64(x.Wind.Hours))
		}
	}
}

// lookTimeout bounds what a look at the store may take.
const lookTimeout = 5 * time.Second

// look sets what is read at the time of asking.
func (m *daemonMetrics) look(d *Daemon, e *engine) {
	now := d.now()
	m.age.Reset()
	m.missing.Reset()
	m.skipped.Reset()
	m.trouble.Reset()
	reached := map[string]bool{}
	for _, p := range e.cfg.Ports {
		for name, t := range e.sees.of(p.Name).Troubles {
			on := 0.0
			if !t.Over {
				on = 1
			}
			m.trouble.WithLabelValues(p.Name, name).Set(on)
		}
		for _, s := range e.sees.of(p.Name).Sources {
			m.missing.WithLabelValues(p.Name, s.Name).Set(1)
			if age, ok := s.age(now); ok {
				m.missing.WithLabelValues(p.Name, s.Name).Set(0)
				m.age.WithLabelValues(p.Name, s.Name).Set(age.Seconds())
			}
			m.skipped.WithLabelValues(p.Name, s.Name).Set(float64(len(s.Notes)))
		}
		for _, person := range e.people[p.Name] {
			reached[person.Name] = true
		}
	}
	m.people.Set(float64(len(reached)))
	ctx, cancel := context.WithTimeout(context.Background(), lookTimeout)
	defer cancel()
	if n, err := e.app.store.Size(ctx); err == nil {
		m.size.Set(float64(n))
	}
	if list, err := e.app.store.Outbox().Messages(ctx, models.MessageDead, 1000); err == nil {
		m.dead.Set(float64(len(list)))
	}
}
