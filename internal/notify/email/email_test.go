package email_test

import (
	"bufio"
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/notify/email"
)

var _ notify.Channel = (*email.Channel)(nil)

// server is a real SMTP server on this machine. The fields say how it
// behaves; got is what it took over.
type server struct {
	refuseRcpt map[string]error
	onData     func(c *smtp.Conn, r io.Reader) error

	mu  sync.Mutex
	got []taken
}

type taken struct{ from, to, data string }

func (s *server) all() []taken {
	s.mu.Lock()
	defer s.mu.Unlock()
	return append([]taken(nil), s.got...)
}

type session struct {
	s        *server
	c        *smtp.Conn
	from, to string
	in       bool
}

func (*session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (x *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "boat" || password != "s3cret" {
			return smtp.ErrAuthFailed
		}
		x.in = true
		return nil
	}), nil
}

func (x *session) Mail(from string, _ *smtp.MailOptions) error {
	if !x.in {
		return smtp.ErrAuthRequired
	}
	x.from = from
	return nil
}

func (x *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	if err := x.s.refuseRcpt[to]; err != nil {
		return err
	}
	x.to = to
	return nil
}

func (x *session) Data(r io.Reader) error {
	if x.s.onData != nil {
		if err := x.s.onData(x.c, r); err != nil {
			return err
		}
	}
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	x.s.mu.Lock()
	defer x.s.mu.Unlock()
	x.s.got = append(x.s.got, taken{x.from, x.to, string(b)})
	return nil
}

func (*session) Reset()        {}
func (*session) Logout() error { return nil }

// start runs the server. Without a certificate it offers no STARTTLS.
func (s *server) start(t *testing.T, withTLS bool, more ...func(*smtp.Server)) (port int, roots *x509.CertPool) {
	t.Helper()
	srv := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &session{s: s, c: c}, nil }))
	srv.Domain = "mail.example"
	srv.AllowInsecureAuth = true
	srv.ErrorLog = quiet{}
	if withTLS {
		web := httptest.NewTLSServer(nil) // lends its certificate for 127.0.0.1
		t.Cleanup(web.Close)
		srv.TLSConfig = &tls.Config{Certificates: web.TLS.Certificates}
		roots = x509.NewCertPool()
		roots.AddCert(web.Certificate())
	}
	for _, f := range more {
		f(srv)
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	done := make(chan struct{})
	go func() { defer close(done); _ = srv.Serve(l) }()
	t.Cleanup(func() { srv.Close(); <-done })
	return l.Addr().(*net.TCPAddr).Port, roots
}

type quiet struct{}

func (quiet) Printf(string, ...any) {}
func (quiet) Println(...any)        {}

func options(port int, roots *x509.CertPool) email.Options {
	return email.Options{
		Host: "127.0.0.1", Port: port, Username: "boat", Password: "s3cret",
		From: "Second Light <boat@example.com>", Unsubscribe: "boat@example.com",
		TLSConfig: &tls.Config{RootCAs: roots, ServerName: "127.0.0.1"}, Timeout: 5 * time.Second,
	}
}

func channel(t *testing.T, o email.Options) *email.Channel {
	t.Helper()
	c, err := email.New(o)
	require.NoError(t, err)
	return c
}

func message() models.Message {
	return models.Message{
		ID: "0123456789abcdef@boat.example", Notice: models.NoticeCall, Person: "the captain",
		Made:    time.Date(2027, 1, 18, 17, 0, 0, 0, time.FixedZone("", -5*3600)),
		Subject: "kite, as booked", Text: "Kite.\n.hidden line\nEnd.\n", HTML: "<p>Kite.</p>\n", Short: "kite",
	}
}

func kind(t *testing.T, err error) models.Kind {
	t.Helper()
	e, ok := errors.AsType[*models.Error](err)
	require.True(t, ok, "%v is no *models.Error", err)
	return e.Kind
}

func TestSendOverSTARTTLS(t *testing.T) {
	s := &server{}
	port, roots := s.start(t, true)
	require.NoError(t, channel(t, options(port, roots)).Send(t.Context(), message(), "captain@example.com"))
	got := s.all()
	require.Len(t, got, 1)
	require.Equal(t, "boat@example.com", got[0].from)
	require.Equal(t, "captain@example.com", got[0].to)
	// The server takes dots off that were stuffed (RFC 5321 4.5.2).
	require.Contains(t, got[0].data, "\r\n.hidden line\r\n")
}

func TestSendOverTLSFromTheStart(t *testing.T) {
	s := &server{}
	web := httptest.NewTLSServer(nil)
	defer web.Close()
	roots := x509.NewCertPool()
	roots.AddCert(web.Certificate())
	srv := smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &session{s: s, c: c}, nil }))
	srv.Domain, srv.ErrorLog = "mail.example", quiet{}
	l, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: web.TLS.Certificates})
	require.NoError(t, err)
	go func() { _ = srv.Serve(l) }()
	defer srv.Close()
	o := options(l.Addr().(*net.TCPAddr).Port, roots)
	o.Encryption = email.TLS
	require.NoError(t, channel(t, o).Send(t.Context(), message(), "captain@example.com"))
	require.Len(t, s.all(), 1)
}

func TestRefusesAServerWithoutSTARTTLS(t *testing.T) {
	s := &server{}
	port, _ := s.start(t, false)
	err := channel(t, options(port, nil)).Send(t.Context(), message(), "captain@example.com")
	require.Equal(t, models.KindBadConfig, kind(t, err))
	require.ErrorContains(t, err, "STARTTLS")
	require.Empty(t, s.all())
}

func TestPlainOnThisMachineOnly(t *testing.T) {
	s := &server{}
	port, _ := s.start(t, false)
	o := options(port, nil)
	o.Encryption = email.Plain
	require.NoError(t, channel(t, o).Send(t.Context(), message(), "captain@example.com"))
	require.Len(t, s.all(), 1)

	o.Host = "mail.example.com"
	_, err := email.New(o)
	require.EqualError(t, err, "e-mail: a password would go to mail.example.com in the clear: use starttls or tls")
	o.Username = ""
	_, err = email.New(o)
	require.NoError(t, err, "without a password there is nothing to overhear but the message")
}

func TestServerThatCannotProveItself(t *testing.T) {
	s := &server{}
	port, _ := s.start(t, true)
	err := channel(t, options(port, x509.NewCertPool())).Send(t.Context(), message(), "captain@example.com")
	require.Equal(t, models.KindBadConfig, kind(t, err))
	require.ErrorContains(t, err, "can't prove")
}

func TestWrongPassword(t *testing.T) {
	s := &server{}
	port, roots := s.start(t, true)
	o := options(port, roots)
	o.Password = "not it, hunter2"
	err := channel(t, o).Send(t.Context(), message(), "captain@example.com")
	require.Equal(t, models.KindBadConfig, kind(t, err))
	require.ErrorContains(t, err, "log in as boat")
	require.NotContains(t, err.Error(), "hunter2")
}

func TestAnswersOfTheServer(t *testing.T) {
	cases := []struct {
		name string
		data error
		want models.Kind
	}{
		{"busy", &smtp.SMTPError{Code: 451, Message: "try later"}, models.KindServer},
		{"full", &smtp.SMTPError{Code: 452, Message: "no room"}, models.KindServer},
		{"refused", &smtp.SMTPError{Code: 554, Message: "no"}, models.KindRefused},
		{"over the quota", &smtp.SMTPError{Code: 552, Message: "too big"}, models.KindTooLarge},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			tries := 0
			s := &server{onData: func(*smtp.Conn, io.Reader) error {
				if tries++; tries == 1 {
					return c.data
				}
				return nil
			}}
			port, roots := s.start(t, true)
			ch := channel(t, options(port, roots))
			err := ch.Send(t.Context(), message(), "captain@example.com")
			require.Equal(t, c.want, kind(t, err))
			require.Empty(t, s.all())
			if c.want == models.KindServer {
				require.NoError(t, ch.Send(t.Context(), message(), "captain@example.com"))
				require.Len(t, s.all(), 1)
			}
		})
	}
}

func TestOneRecipientRefusedHoldsUpNobodyElse(t *testing.T) {
	s := &server{refuseRcpt: map[string]error{
		"gone@example.com": &smtp.SMTPError{Code: 550, Message: "no such person"},
		"busy@example.com": &smtp.SMTPError{Code: 450, Message: "greylisted"},
	}}
	port, roots := s.start(t, true)
	ch := channel(t, options(port, roots))
	require.Equal(t, models.KindRefused, kind(t, ch.Send(t.Context(), message(), "gone@example.com")))
	require.Equal(t, models.KindServer, kind(t, ch.Send(t.Context(), message(), "busy@example.com")))
	require.NoError(t, ch.Send(t.Context(), message(), "mate@example.com"))
	require.Len(t, s.all(), 1)
	require.Equal(t, "mate@example.com", s.all()[0].to)
}

func TestTooLargeForTheServer(t *testing.T) {
	s := &server{}
	port, roots := s.start(t, true, func(srv *smtp.Server) { srv.MaxMessageBytes = 2000 })
	m := message()
	m.Text = strings.Repeat("wind and sea\n", 1000)
	err := channel(t, options(port, roots)).Send(t.Context(), m, "captain@example.com")
	require.Equal(t, models.KindTooLarge, kind(t, err))
	require.Empty(t, s.all())
}

func TestServerClosesInTheMiddleOfTheData(t *testing.T) {
	s := &server{onData: func(c *smtp.Conn, r io.Reader) error {
		_, _ = io.ReadFull(r, make([]byte, 10))
		return c.Conn().Close()
	}}
	port, roots := s.start(t, true)
	err := channel(t, options(port, roots)).Send(t.Context(), message(), "captain@example.com")
	require.Equal(t, models.KindUnreachable, kind(t, err))
}

func TestSlowServerEndsWithTheContext(t *testing.T) {
	release := make(chan struct{})
	s := &server{onData: func(_ *smtp.Conn, r io.Reader) error {
		<-release
		return nil
	}}
	port, roots := s.start(t, true)
	defer close(release)
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	begin := time.Now()
	err := channel(t, options(port, roots)).Send(ctx, message(), "captain@example.com")
	require.Equal(t, models.KindTimeout, kind(t, err))
	require.Less(t, time.Since(begin), 4*time.Second, "the channel's own time limit is 5 s: the context must cut it short")
}

func TestSilentServerEndsWithTheChannelsOwnLimit(t *testing.T) {
	port := script(t, func(net.Conn, *bufio.Reader) {})
	o := options(port, nil)
	o.Encryption, o.Timeout = email.Plain, 200*time.Millisecond
	err := channel(t, o).Send(t.Context(), message(), "captain@example.com")
	require.Equal(t, models.KindTimeout, kind(t, err))
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	err := channel(t, options(1, nil)).Send(ctx, message(), "captain@example.com")
	require.Equal(t, models.KindCancelled, kind(t, err))
}

func TestNobodyListens(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	require.Equal(t, models.KindUnreachable, kind(t, channel(t, options(port, nil)).Send(t.Context(), message(), "captain@example.com")))
}

// After the 250 for the data the message is the server's, whatever follows.
func TestTroubleAfterTheDataWereTakenIsNone(t *testing.T) {
	for name, after := range map[string]string{"quit refused": "500 what\r\n", "nonsense": "hello\r\n", "closed": ""} {
		t.Run(name, func(t *testing.T) {
			port := script(t, func(c net.Conn, r *bufio.Reader) {
				fmt.Fprint(c, "220 mail.example\r\n")
				for {
					line, err := r.ReadString('\n')
					if err != nil {
						return
					}
					switch verb := strings.ToUpper(line[:4]); verb {
					case "EHLO":
						fmt.Fprint(c, "250 mail.example\r\n")
					case "DATA":
						fmt.Fprint(c, "354 go on\r\n")
						for line != ".\r\n" {
							if line, err = r.ReadString('\n'); err != nil {
								return
							}
						}
						fmt.Fprint(c, "250 taken\r\n")
						if after == "" {
							return
						}
					case "QUIT", "RSET", "NOOP":
						fmt.Fprint(c, after)
						return
					default:
						fmt.Fprint(c, "250 ok\r\n")
					}
				}
			})
			o := options(port, nil)
			o.Encryption, o.Username = email.Plain, ""
			require.NoError(t, channel(t, o).Send(t.Context(), message(), "captain@example.com"))
		})
	}
}

// script serves one connection by hand, for what a well-behaved server won't do.
func script(t *testing.T, serve func(net.Conn, *bufio.Reader)) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	over := make(chan struct{})
	go func() {
		c, err := l.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		serve(c, bufio.NewReader(c))
		if !strings.Contains(t.Name(), "Silent") {
			return
		}
		<-over
	}()
	t.Cleanup(func() { close(over); l.Close() })
	return l.Addr().(*net.TCPAddr).Port
}

func TestOptionsThatCannotWork(t *testing.T) {
	good := email.Options{Host: "mail.example.com", Port: 587, From: "boat@example.com"}
	_, err := email.New(good)
	require.NoError(t, err)
	for name, c := range map[string]struct {
		change func(*email.Options)
		want   string
	}{
		"no host":          {func(o *email.Options) { o.Host = "" }, "e-mail: no server is given"},
		"no port":          {func(o *email.Options) { o.Port = 0 }, "e-mail: 0 is no port: give 587 for STARTTLS or 465 for TLS"},
		"bad sender":       {func(o *email.Options) { o.From = "boat" }, `e-mail: "boat" is no address to write from`},
		"sender injection": {func(o *email.Options) { o.From = "a@example.com\r\nBcc: b@example.com" }, "is no address to write from"},
		"encryption":       {func(o *email.Options) { o.Encryption = "ssl" }, `e-mail: "ssl" is no encryption: use starttls, tls or none`},
		"unsubscribe":      {func(o *email.Options) { o.Unsubscribe = "http://example.com" }, "is no way to unsubscribe"},
		"unsubscribe line": {func(o *email.Options) { o.Unsubscribe = "https://example.com/\r\nBcc: b@example.com" }, "line break"},
	} {
		t.Run(name, func(t *testing.T) {
			o := good
			c.change(&o)
			_, err := email.New(o)
			require.ErrorContains(t, err, c.want)
		})
	}
}
