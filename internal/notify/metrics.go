package notify

import (
	"errors"

	"github.com/prometheus/client_golang/prometheus"
)

type metrics struct {
	messages, tries, dead *prometheus.CounterVec
	waiting               prometheus.Gauge
}

func newMetrics(r prometheus.Registerer) (*metrics, error) {
	m := &metrics{
		messages: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_messages_total", Help: "Messages written down to be sent, by sort and by the reason for sending.",
		}, []string{"notice", "reason"}),
		tries: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_message_tries_total", Help: "Tries to send a message, by channel and result.",
		}, []string{"channel", "result"}),
		dead: prometheus.NewCounterVec(prometheus.CounterOpts{
			Name: "forecastd_messages_dead_total", Help: "Messages given up, so that nobody was told, by sort.",
		}, []string{"notice"}),
		waiting: prometheus.NewGauge(prometheus.GaugeOpts{
			Name: "forecastd_outbox_messages", Help: "Messages that wait in the outbox after its last round.",
		}),
	}
	if r == nil {
		return m, nil
	}
	return m, errors.Join(register(r, &m.messages), register(r, &m.tries), register(r, &m.dead), register(r, &m.waiting))
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
