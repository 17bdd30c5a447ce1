package httpx

import (
	"errors"

	"github.com/prometheus/client_golang/prometheus"
)

type metrics struct {
	attempts *prometheus.CounterVec
	retries  *prometheus.CounterVec
	failures *prometheus.CounterVec
	duration *prometheus.HistogramVec
	bytes    *prometheus.CounterVec
}

func newMetrics(reg prometheus.Registerer) (*metrics, error) {
	m := &metrics{
		attempts: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_fetch_attempts_total",
			Help: "Requests made, by source and HTTP status (none: no answer came).",
		}, []string{"source", "code"}),
		retries: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_fetch_retries_total",
			Help: "Requests tried again after a temporary failure, by source.",
		}, []string{"source"}),
		failures: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_fetch_failures_total",
			Help: "Fetches given up, by source and kind of failure.",
		}, []string{"source", "kind"}),
		duration: prometheus.NewHistogramVec(prometheus.HistogramOpts{
			Name:    "forecastd_fetch_attempt_duration_seconds",
			Help:    "Time from request to the end of the body, by source.",
			Buckets: []float64{0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 20, 60},
		}, []string{"source"}),
		bytes: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_fetch_body_bytes_total",
			Help: "Bytes of good answers after decompression, by source.",
		}, []string{"source"}),
	}
	if reg == nil {
		return m, nil
	}
	return m, errors.Join(register(reg, &m.attempts), register(reg, &m.retries), register(reg, &m.failures), register(reg, &m.duration), register(reg, &m.bytes))
}

// register registers a metric, or takes the one that is there: who takes the
// place of another goes on counting.
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
