package httpx

import "github.com/prometheus/client_golang/prometheus"

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
	for _, c := range []prometheus.Collector{m.attempts, m.retries, m.failures, m.duration, m.bytes} {
		if err := reg.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}
