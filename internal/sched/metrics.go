package sched

import (
	"errors"

	"github.com/prometheus/client_golang/prometheus"
)

type metrics struct {
	runs     *prometheus.CounterVec
	panics   *prometheus.CounterVec
	skipped  *prometheus.CounterVec
	success  *prometheus.GaugeVec
	duration *prometheus.HistogramVec
}

func newMetrics(reg prometheus.Registerer) (*metrics, error) {
	m := &metrics{
		runs: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_job_runs_total",
			Help: "Runs that ended, by job and outcome.",
		}, []string{"job", "outcome"}),
		panics: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_job_panics_total",
			Help: "Runs that ended in a panic, by job: each is a fault of the program.",
		}, []string{"job"}),
		skipped: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_job_skipped_total",
			Help: "Times that a job was due while it still ran, by job.",
		}, []string{"job"}),
		success: prometheus.NewGaugeVec(prometheus.GaugeOpts{
			Name: "forecastd_job_last_success_timestamp_seconds",
			Help: "When the last run that went well was due, by job; 0 if there was none.",
		}, []string{"job"}),
		duration: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name:    "forecastd_job_duration_seconds",
			Help:    "How long runs took, by job.",
			Buckets: []float64{0.1, 0.5, 1, 5, 15, 30, 60, 120, 300, 600},
		}, []string{"job"}),
	}
	if reg == nil {
		return m, nil
	}
	return m, errors.Join(register(reg, &m.runs), register(reg, &m.panics), register(reg, &m.skipped), register(reg, &m.success), register(reg, &m.duration))
}

// register registers a metric, or takes the one that is there: a Runner that
// takes the place of another goes on counting.
func register[C prometheus.Collector](reg prometheus.Registerer, c *C) error {
	err := reg.Register(*c)
	if there, ok := errors.AsType[prometheus.AlreadyRegisteredError](err); ok {
		if same, ok := there.ExistingCollector.(C); ok {
			*c = same
			return nil
		}
	}
	return err
}
