package config

import (
	"errors"
	"fmt"
	"net"
	"net/mail"
	"net/url"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/models"
)

// Encryption is how the way to the mail server is kept private.
type Encryption string

// Ways.
const (
	STARTTLS  Encryption = "starttls"
	TLS       Encryption = "tls"
	Unsecured Encryption = "none" // a server on this machine only
)

// Mail is the server that takes e-mail over for delivery.
type Mail struct {
	Host       string
	Port       int
	Encryption Encryption
	// From is who writes: "Second Light <boat@example.com>".
	From string
	// User logs in, with the password in PasswordFile or in the environment;
	// empty logs in nobody.
	User, PasswordFile string
}

// Webhook is what the receivers of webhooks share with us.
type Webhook struct {
	// SecretFile holds the secret; empty means that the environment does.
	SecretFile string
}

// Daemon is how `forecastd serve` runs.
type Daemon struct {
	// Listen is the address of the operator's pages and metrics.
	Listen string
	// Evening and Morning are when the call is made and confirmed, on each
	// port's clock.
	Evening, Morning models.Clock
	// CollectEvery is how often it is looked which services can have something
	// new, to ask them; CheckEvery how often what was told is checked against
	// them.
	CollectEvery, CheckEvery time.Duration
	// MessagesPerHour bounds the alerts and troubles that one person is sent in
	// an hour; what is over it comes together, the gravest first.
	MessagesPerHour int
	// Heartbeat is asked after each round that went well, so that whoever
	// watches it notices when this computer is dead; empty asks nobody.
	Heartbeat string
	Keep      Keep
}

// Keep says how long things are kept.
type Keep struct {
	Observations, Series, Outlooks, Calls, Warnings, Messages, Runs, FailedRuns time.Duration
	// Guests is how many days after a trip names and contacts are erased.
	Guests int
	// Bytes bounds the store's file.
	Bytes int64
}

// DefaultDaemon returns how the daemon runs unless told otherwise: it listens
// on this machine only, calls after the late-afternoon official forecast, and
// confirms before guests leave home.
func DefaultDaemon() Daemon {
	const day = 24 * time.Hour
	return Daemon{
		Listen: "127.0.0.1:8416", Evening: models.Clock{Hour: 17}, Morning: models.Clock{Hour: 4, Minute: 40},
		CollectEvery: 10 * time.Minute, CheckEvery: time.Hour, MessagesPerHour: 6,
		Keep: Keep{
			Observations: 400 * day, Series: 120 * day, Outlooks: 30 * day, Calls: 1095 * day, Warnings: 400 * day,
			Messages: 180 * day, Runs: 30 * day, FailedRuns: 120 * day, Guests: 14, Bytes: 1000 * megabyte,
		},
	}
}

const megabyte = 1_000_000

func readMail(t *table) models.Opt[Mail] {
	g, ok := t.part("mail", "the server that takes e-mail over; without it nobody gets e-mail")
	if !ok {
		return models.Unknown[Mail]()
	}
	m := Mail{
		Host:         need(g, "host", text("the mail server's name, as mail.example.com")),
		Port:         want(g, "port", count(1, 65535), 587),
		Encryption:   want(g, "encryption", word("an encryption", STARTTLS, TLS, Unsecured), STARTTLS),
		From:         need(g, "from", sender()),
		User:         maybe(g, "user", text("the name to log in with")).Or(""),
		PasswordFile: maybe(g, "password_file", text("the file that holds the password and nothing else")).Or(""),
	}
	if m.Encryption == Unsecured && g.ok("host") && !onThisMachine(m.Host) {
		g.fail("encryption", "messages would go to %s in the clear: write starttls or tls", m.Host)
	}
	if m.PasswordFile != "" && m.User == "" {
		g.fail("password_file", "is for nobody: write user, too")
	}
	g.done()
	return models.Known(m)
}

func onThisMachine(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func readWebhook(t *table) models.Opt[Webhook] {
	g, ok := t.part("webhook", "what the receivers of webhooks share with us")
	if !ok {
		return models.Unknown[Webhook]()
	}
	w := Webhook{SecretFile: maybe(g, "secret_file", text("the file that holds the secret, 16 characters or more")).Or("")}
	g.done()
	return models.Known(w)
}

func readDaemon(t *table) Daemon {
	d := DefaultDaemon()
	g := t.group("daemon", "how forecastd serve runs")
	d.Listen = want(g, "listen", listen(), d.Listen)
	d.Evening = want(g, "evening", clock(), d.Evening)
	d.Morning = want(g, "morning", clock(), d.Morning)
	d.CollectEvery = want(g, "collect_every", period(5*time.Minute, 3*time.Hour), d.CollectEvery)
	d.CheckEvery = want(g, "check_every", period(15*time.Minute, 12*time.Hour), d.CheckEvery)
	d.MessagesPerHour = want(g, "messages_per_hour", count(1, 1000), d.MessagesPerHour)
	d.Heartbeat = maybe(g, "heartbeat", webAddress("an https address that an outside watcher gives you")).Or("")
	const day = 24 * time.Hour
	k := g.group("keep", "how long things are kept")
	for _, one := range []struct {
		key  string
		to   *time.Duration
		from time.Duration
	}{
		{"observations", &d.Keep.Observations, 2 * day}, {"series", &d.Keep.Series, 2 * day}, {"outlooks", &d.Keep.Outlooks, 2 * day},
		{"calls", &d.Keep.Calls, 7 * day}, {"warnings", &d.Keep.Warnings, 2 * day}, {"messages", &d.Keep.Messages, 7 * day},
		{"runs", &d.Keep.Runs, 7 * day}, {"failed_runs", &d.Keep.FailedRuns, 7 * day},
	} {
		*one.to = want(k, one.key, span(one.from, 3650*day), *one.to)
	}
	d.Keep.Guests = want(k, "guests_days", count(0, 3650), d.Keep.Guests)
	d.Keep.Bytes = want(k, "size", size(50*megabyte, 1_000_000*megabyte), d.Keep.Bytes)
	k.done()
	if d.Evening == d.Morning && g.ok("evening", "morning") {
		g.fail("morning", "is the same as evening: write another time")
	}
	g.done()
	return d
}

// period is a span that divides a day, so that it falls on the same times of
// each.
func period(lo, hi time.Duration) kind[time.Duration] {
	k := span(lo, hi)
	read := k.read
	k.read = func(s string) (time.Duration, error) {
		d, err := read(s)
		if err == nil && (d%time.Minute != 0 || 24*time.Hour%d != 0) {
			return d, fmt.Errorf("%q does not divide a day: write for example 10 min, 30 min, 1 h or 3 h", s)
		}
		return d, err
	}
	return k
}

// size is an amount of storage.
func size(lo, hi int64) kind[int64] {
	q := quantity("a size", "1000 MB", unit[octets]{"MB", megabyte}, unit[octets]{"GB", 1000 * megabyte})
	return in(kind[int64]{
		what: q.what,
		show: func(n int64) string { return q.show(octets(n)) },
		read: func(s string) (int64, error) {
			n, err := q.read(s)
			return int64(n), err
		},
	}, lo, hi)
}

type octets float64

// listen is an address to listen on.
func listen() kind[string] {
	const what = "an address to listen on, as 127.0.0.1:8416"
	return kind[string]{
		what: what,
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			_, port, err := net.SplitHostPort(s)
			if err == nil {
				_, err = strconv.ParseUint(port, 10, 16)
			}
			if err != nil {
				return "", fmt.Errorf("%q is no address to listen on: write one, as 127.0.0.1:8416", s)
			}
			return s, nil
		},
	}
}

// sender is an e-mail address with or without a name.
func sender() kind[string] {
	return kind[string]{
		what: "who writes, as Second Light <boat@example.com>",
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			if _, err := mail.ParseAddress(s); err != nil {
				return "", fmt.Errorf("%q is no address to write from: write one, as Second Light <boat@example.com>", s)
			}
			return s, nil
		},
	}
}

// address is where a person is told: an e-mail address, or the https address
// of a webhook.
func address() kind[string] {
	mailbox, web := email(), webAddress("an https address")
	return kind[string]{
		what: "an e-mail address, or the https address of a webhook",
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			if !strings.Contains(s, "://") {
				return mailbox.read(s)
			}
			return web.read(s)
		},
	}
}

// webAddress is an https address, or an http one of this machine.
func webAddress(what string) kind[string] {
	return kind[string]{
		what: what,
		show: func(s string) string { return s },
		read: func(s string) (string, error) {
			u, err := url.Parse(s)
			if err != nil || u.Host == "" || u.Scheme != "https" && !(u.Scheme == "http" && onThisMachine(u.Hostname())) {
				// The address may be a secret in itself.
				return "", errors.New("is no https address: write one, as https://example.com/messages")
			}
			return s, nil
		},
	}
}
