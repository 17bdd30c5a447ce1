package email_test

import (
	"bytes"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"forecastd/internal/models"
	"forecastd/internal/notify/email"
)

func compose(t require.TestingT, m models.Message, to string) string {
	c, err := email.New(email.Options{Host: "mail.example.com", Port: 587, From: "Second Light <boat@example.com>", Unsubscribe: "boat@example.com"})
	require.NoError(t, err)
	s, err := c.Compose(m, to)
	require.NoError(t, err)
	return s
}

func TestHeadersAndParts(t *testing.T) {
	m := message()
	m.Subject = "Martes: cometa, vuelve antes del mediodía — avisos oficiales en vigor, léalos antes de salir del puerto y escuche la radio"
	m.Person = "José Núñez"
	m.Urgent = true
	m.Attachments = []models.Attachment{{Name: "charter.ics", Type: "text/calendar; charset=utf-8; method=PUBLISH", Data: []byte("BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n")}}
	raw := compose(t, m, "captain@example.com")

	require.NotContains(t, strings.ReplaceAll(raw, "\r\n", ""), "\n", "a bare line feed")
	require.NotContains(t, strings.ReplaceAll(raw, "\r\n", ""), "\r", "a bare carriage return")
	for _, line := range strings.Split(raw, "\r\n") {
		require.LessOrEqual(t, len(line), 78, "RFC 5322 2.1.1 wants lines of at most 78: %q", line)
	}
	require.NotContains(t, raw, "User-Agent")
	require.NotContains(t, raw, "X-Mailer")

	got, err := mail.ReadMessage(strings.NewReader(raw))
	require.NoError(t, err)
	subject, err := new(mime.WordDecoder).DecodeHeader(got.Header.Get("Subject"))
	require.NoError(t, err)
	require.Equal(t, m.Subject, subject)
	require.Equal(t, "Mon, 18 Jan 2027 17:00:00 -0500", got.Header.Get("Date"))
	require.Equal(t, "<0123456789abcdef@boat.example>", got.Header.Get("Message-ID"))
	require.Equal(t, "auto-generated", got.Header.Get("Auto-Submitted"))
	require.Equal(t, "<mailto:boat@example.com?subject=unsubscribe>", got.Header.Get("List-Unsubscribe"))
	require.Equal(t, "high", got.Header.Get("Importance"))
	to, err := got.Header.AddressList("To")
	require.NoError(t, err)
	require.Equal(t, []*mail.Address{{Name: "José Núñez", Address: "captain@example.com"}}, to)

	mixed := parts(t, got.Header.Get("Content-Type"), got.Body)
	require.Len(t, mixed, 2)
	bodies := parts(t, mixed[0].kind, strings.NewReader(mixed[0].body))
	require.Len(t, bodies, 2)
	require.Equal(t, "text/plain; charset=UTF-8", bodies[0].kind)
	require.Equal(t, strings.ReplaceAll(m.Text, "\n", "\r\n"), bodies[0].body)
	require.Equal(t, "text/html; charset=UTF-8", bodies[1].kind)
	require.Contains(t, mixed[1].kind, "text/calendar")
	require.Contains(t, mixed[1].kind, "method=PUBLISH")
	require.Contains(t, mixed[1].disposition, "charter.ics")
}

type part struct{ kind, disposition, body string }

func parts(t *testing.T, contentType string, body io.Reader) []part {
	t.Helper()
	kind, params, err := mime.ParseMediaType(contentType)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(kind, "multipart/"), kind)
	r := multipart.NewReader(body, params["boundary"])
	var out []part
	for {
		p, err := r.NextPart()
		if err == io.EOF {
			return out
		}
		require.NoError(t, err)
		b, err := io.ReadAll(p)
		require.NoError(t, err)
		out = append(out, part{p.Header.Get("Content-Type"), p.Header.Get("Content-Disposition"), string(b)})
	}
}

func TestTheSameMessageHasTheSameBytes(t *testing.T) {
	m := message()
	m.Attachments = []models.Attachment{{Name: "a.ics", Type: "text/calendar", Data: []byte("x")}}
	first := compose(t, m, "captain@example.com")
	require.Equal(t, first, compose(t, m, "captain@example.com"))
	m.ID = "other@boat.example"
	require.NotEqual(t, first, compose(t, m, "captain@example.com"))
}

// Names, subjects and texts from anywhere can add no header and no part.
func TestNothingCanBeSmuggledIn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := message()
		nasty := rapid.OneOf(rapid.String(), rapid.StringMatching(`[a-z]{0,5}(\r\n|\n|\r|\x{85}|\x{2028})Bcc: x@example\.com(\r\n\r\n)?.{0,20}`))
		m.Subject, m.Person, m.Text, m.HTML = nasty.Draw(t, "subject"), nasty.Draw(t, "person"), nasty.Draw(t, "text"), nasty.Draw(t, "html")
		m.Attachments = []models.Attachment{{Name: nasty.Draw(t, "file"), Type: "text/calendar; " + nasty.Draw(t, "type"), Data: []byte(nasty.Draw(t, "data"))}}
		raw := compose(t, m, "captain@example.com")
		got, err := mail.ReadMessage(strings.NewReader(raw))
		require.NoError(t, err)
		for h := range got.Header {
			require.Contains(t, []string{"Auto-Submitted", "Content-Type", "Date", "From", "List-Unsubscribe", "Message-Id", "Mime-Version", "Subject", "To"}, h)
		}
		to, err := got.Header.AddressList("To")
		require.NoError(t, err)
		require.Len(t, to, 1)
		require.Equal(t, "captain@example.com", to[0].Address)
	})
}

func TestTextSurvives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := message()
		m.HTML = ""
		m.Text = strings.Join(rapid.SliceOfN(rapid.StringMatching(`[ -~áéíóúñ°–]{0,200}`), 0, 20).Draw(t, "lines"), "\n")
		got, err := mail.ReadMessage(strings.NewReader(compose(t, m, "captain@example.com")))
		require.NoError(t, err)
		b, err := io.ReadAll(quotedprintable.NewReader(got.Body))
		require.NoError(t, err)
		require.Equal(t, m.Text, string(bytes.ReplaceAll(b, []byte("\r\n"), []byte("\n"))))
	})
}

func TestShortFormAlone(t *testing.T) {
	c, err := email.New(email.Options{Host: "mail.example.com", Port: 587, From: "boat@example.com", Short: true})
	require.NoError(t, err)
	m := message()
	m.Short = "SMALL CRAFT ADVISORY. KITE, BACK BY NOON."
	m.Attachments = []models.Attachment{{Name: "a.ics", Type: "text/calendar", Data: []byte("x")}}
	raw, err := c.Compose(m, "5550100@sms.example.com")
	require.NoError(t, err)
	got, err := mail.ReadMessage(strings.NewReader(raw))
	require.NoError(t, err)
	require.Equal(t, "text/plain; charset=UTF-8", got.Header.Get("Content-Type"))
	b, err := io.ReadAll(quotedprintable.NewReader(got.Body))
	require.NoError(t, err)
	require.Equal(t, m.Short, strings.TrimSpace(string(b)))
}

func TestSubject(t *testing.T) {
	require.Equal(t, "a b c", email.Subject(" a\r\n b\tc "))
	long := email.Subject(strings.Repeat("ñ ", 500))
	require.LessOrEqual(t, utf8.RuneCountInString(long), 180)
	require.True(t, strings.HasSuffix(long, "..."))
}

func TestComposeRefuses(t *testing.T) {
	c, err := email.New(email.Options{Host: "mail.example.com", Port: 587, From: "boat@example.com"})
	require.NoError(t, err)
	m := message()
	_, err = c.Compose(m, "a@example.com\r\nBcc: b@example.com")
	require.ErrorContains(t, err, "is no address")
	m.ID = "x>\r\nBcc: b@example.com"
	_, err = c.Compose(m, "a@example.com")
	require.ErrorContains(t, err, "is no message id")
}
