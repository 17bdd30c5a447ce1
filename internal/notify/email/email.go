// Package email sends messages by SMTP, one recipient each, as text and HTML.
//
// STARTTLS is required unless the configuration says otherwise, and a password
// never travels in the clear except to this machine itself. A message counts
// as sent with the 250 after its data: what goes wrong later (RSET, QUIT, a
// closed connection) changes nothing. The bytes of a message depend on nothing
// but the message, so that a repeat is byte for byte the same.
package email

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/mail"
	"net/textproto"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"
	"github.com/wneessen/go-mail/smtp"

	"forecastd/internal/models"
)

// Encryption is how the connection is protected.
type Encryption string

// Ways to protect the connection.
const (
	// STARTTLS is required of the server; without it nothing is sent.
	STARTTLS Encryption = "starttls"
	// TLS is spoken from the first octet (port 465, RFC 8314).
	TLS Encryption = "tls"
	// Plain is no protection at all: for a mail server on this machine.
	Plain Encryption = "none"
)

// Options say which server to use and as whom.
type Options struct {
	Host string
	Port int
	// Encryption is STARTTLS where empty.
	Encryption Encryption
	// Username and Password log in; without a username nobody does.
	Username, Password string
	// From is who writes: "Second Light <boat@example.com>". Replies go
	// there.
	From string
	// Unsubscribe is an address or a web page (https) at which a recipient
	// can ask for no more messages.
	Unsubscribe string
	// Short sends the short form alone, as plain text without attachments:
	// for gateways that make text messages of e-mail.
	Short bool
	// Hello is the name we give ourselves; "localhost" where empty.
	Hello string
	// TLSConfig says whom to trust; nil means whom the system trusts.
	TLSConfig *tls.Config
	// Timeout bounds each exchange with the server; 0 means 30 s.
	Timeout time.Duration
}

// Channel sends by SMTP. It may be used by several goroutines.
type Channel struct {
	o    Options
	from mail.Address
}

// New checks the options; nobody is asked anything yet.
func New(o Options) (*Channel, error) {
	from, err := mail.ParseAddress(o.From)
	switch {
	case o.Host == "":
		return nil, errors.New("e-mail: no server is given")
	case o.Port < 1 || o.Port > 65535:
		return nil, fmt.Errorf("e-mail: %d is no port: give 587 for STARTTLS or 465 for TLS", o.Port)
	case err != nil:
		return nil, fmt.Errorf("e-mail: %q is no address to write from: %w", o.From, err)
	case hasControl(o.Unsubscribe) || hasControl(o.Hello):
		return nil, errors.New("e-mail: the way to unsubscribe or our own name holds a line break")
	case o.Unsubscribe != "" && !strings.HasPrefix(o.Unsubscribe, "https://"):
		if a, err := mail.ParseAddress(o.Unsubscribe); err != nil || a.Address != o.Unsubscribe {
			return nil, fmt.Errorf("e-mail: %q is no way to unsubscribe: give an address or an https page", o.Unsubscribe)
		}
	}
	switch o.Encryption {
	case "":
		o.Encryption = STARTTLS
	case STARTTLS, TLS:
	case Plain:
		if o.Username != "" && !loopback(o.Host) {
			return nil, fmt.Errorf("e-mail: a password would go to %s in the clear: use starttls or tls", o.Host)
		}
	default:
		return nil, fmt.Errorf("e-mail: %q is no encryption: use starttls, tls or none", o.Encryption)
	}
	if o.Hello == "" {
		o.Hello = "localhost"
	}
	if o.Timeout <= 0 {
		o.Timeout = 30 * time.Second
	}
	return &Channel{o: o, from: *from}, nil
}

// loopback tells whether a host is this machine. A name other than localhost
// is not looked up: who answers may change.
func loopback(host string) bool {
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// Send gives one message to the server for one address. An error is a
// *models.Error: KindServer, KindTimeout and KindUnreachable may pass,
// KindBadConfig wants somebody's hand, KindRefused and KindTooLarge are final.
func (c *Channel) Send(ctx context.Context, m models.Message, address string) error {
	to, err := mail.ParseAddress(address)
	if err != nil {
		return c.fail(models.KindRefused, fmt.Errorf("%q is no address: %w", address, err))
	}
	raw, err := c.Compose(m, address)
	if err != nil {
		return c.fail(models.KindBadContent, err)
	}
	client, hangUp, err := c.dial(ctx)
	if err != nil {
		return err
	}
	defer hangUp()
	if max, ok := sizeLimit(client); ok && int64(len(raw)) > max {
		return c.fail(models.KindTooLarge, fmt.Errorf("the message has %d octets, the server takes %d", len(raw), max))
	}
	if err := client.Mail(c.from.Address); err != nil {
		return c.answer(ctx, "the sender was not taken", err)
	}
	if err := client.Rcpt(to.Address); err != nil {
		return c.answer(ctx, to.Address+" was not taken", err)
	}
	data, err := client.Data()
	if err != nil {
		return c.answer(ctx, "the data were not asked for", err)
	}
	if _, err := io.WriteString(data, raw); err != nil {
		return c.answer(ctx, "the data were cut off", err)
	}
	if err := data.Close(); err != nil {
		return c.answer(ctx, "the data were not taken", err)
	}
	return nil // whatever happens from here on, the server has it
}

// dial opens a session: greeting, encryption, login. The connection is closed
// when ctx ends, which the library alone would not do once it has dialled.
func (c *Channel) dial(ctx context.Context) (*smtp.Client, func(), error) {
	var conn net.Conn
	unwatch := func() bool { return true }
	policy := gomail.TLSMandatory
	if c.o.Encryption == Plain {
		policy = gomail.NoTLS
	}
	config := c.tlsConfig()
	options := []gomail.Option{
		gomail.WithPort(c.o.Port), gomail.WithTimeout(c.o.Timeout), gomail.WithHELO(c.o.Hello),
		gomail.WithTLSPolicy(policy), gomail.WithTLSConfig(config), gomail.WithoutSMTPUTF8(),
		gomail.WithDialContextFunc(func(dialing context.Context, network, address string) (net.Conn, error) {
			nc, err := new(net.Dialer).DialContext(dialing, network, address)
			if err != nil {
				return nil, err
			}
			conn = nc
			unwatch = context.AfterFunc(ctx, func() { nc.Close() })
			if c.o.Encryption != TLS {
				return nc, nil
			}
			tc := tls.Client(nc, config)
			return tc, tc.HandshakeContext(dialing)
		}),
	}
	if c.o.Encryption == TLS {
		options = append(options, gomail.WithSSL())
	}
	if c.o.Username != "" {
		auth := gomail.SMTPAuthPlain
		if c.o.Encryption == Plain {
			auth = gomail.SMTPAuthPlainNoEnc // this machine only: New has seen to it
		}
		options = append(options, gomail.WithSMTPAuth(auth), gomail.WithUsername(c.o.Username), gomail.WithPassword(c.o.Password))
	}
	mc, err := gomail.NewClient(c.o.Host, options...)
	if err != nil {
		return nil, nil, c.fail(models.KindBadConfig, fmt.Errorf("set up the session: %w", err))
	}
	client, err := mc.DialToSMTPClientWithContext(ctx)
	if err != nil {
		unwatch()
		if conn != nil {
			conn.Close()
		}
		return nil, nil, c.dialFailure(ctx, err)
	}
	return client, func() {
		_ = client.Quit() // a courtesy; its outcome tells nothing about the message
		unwatch()
		conn.Close()
	}, nil
}

func (c *Channel) tlsConfig() *tls.Config {
	if c.o.TLSConfig != nil {
		return c.o.TLSConfig.Clone()
	}
	return &tls.Config{ServerName: c.o.Host, MinVersion: tls.VersionTLS12}
}

// dialFailure sorts what went wrong before the message was offered.
func (c *Channel) dialFailure(ctx context.Context, err error) error {
	said, isAnswer := errors.AsType[*textproto.Error](err)
	unknown := &tls.CertificateVerificationError{}
	switch {
	case isAnswer && said.Code/100 == 4:
		return c.fail(models.KindServer, fmt.Errorf("open the session: %w", err))
	case isAnswer && (said.Code == 530 || said.Code == 534 || said.Code == 535 || said.Code == 538):
		return c.fail(models.KindBadConfig, fmt.Errorf("log in as %s: %w", c.o.Username, err))
	case isAnswer:
		return c.fail(models.KindBadConfig, fmt.Errorf("open the session: %w", err))
	case errors.As(err, &unknown):
		return c.fail(models.KindBadConfig, fmt.Errorf("the server can't prove that it is %s: %w", c.o.Host, err))
	case strings.Contains(err.Error(), "does not support STARTTLS"), strings.Contains(err.Error(), "not support SMTP AUTH"),
		errors.Is(err, gomail.ErrPlainAuthNotSupported):
		return c.fail(models.KindBadConfig, fmt.Errorf("open the session: %w", err))
	}
	return c.broken(ctx, "reach the server", err)
}

// answer sorts what a server said to, or did during, a message.
func (c *Channel) answer(ctx context.Context, what string, err error) error {
	said, ok := errors.AsType[*textproto.Error](err)
	switch {
	case !ok:
		return c.broken(ctx, what, err)
	case said.Code == 552 || said.Code == 523:
		return c.fail(models.KindTooLarge, fmt.Errorf("%s: %w", what, err))
	case said.Code/100 == 5:
		return c.fail(models.KindRefused, fmt.Errorf("%s: %w", what, err))
	}
	return c.fail(models.KindServer, fmt.Errorf("%s: %w", what, err))
}

// broken sorts a failure of the connection.
func (c *Channel) broken(ctx context.Context, what string, err error) error {
	var timeout net.Error
	switch {
	case errors.Is(ctx.Err(), context.Canceled):
		return c.fail(models.KindCancelled, fmt.Errorf("%s: %w", what, context.Cause(ctx)))
	case ctx.Err() != nil:
		return c.fail(models.KindTimeout, fmt.Errorf("%s: %w", what, context.Cause(ctx)))
	case errors.As(err, &timeout) && timeout.Timeout():
		return c.fail(models.KindTimeout, fmt.Errorf("%s: %w", what, err))
	}
	return c.fail(models.KindUnreachable, fmt.Errorf("%s: %w", what, err))
}

func (c *Channel) fail(k models.Kind, err error) error {
	return &models.Error{Kind: k, Source: "e-mail", Err: err}
}

// sizeLimit is the largest message that the server says it takes (RFC 1870).
func sizeLimit(c *smtp.Client) (int64, bool) {
	ok, value := c.Extension("SIZE")
	var n int64
	if _, err := fmt.Sscan(value, &n); !ok || err != nil || n <= 0 {
		return 0, false
	}
	return n, true
}
