package email

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/mail"
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	gomail "github.com/wneessen/go-mail"

	"forecastd/internal/models"
)

// longestSubject keeps a subject to what a phone shows and a server takes.
const longestSubject = 180

// Compose makes the message as it goes over the wire (RFC 5322, RFC 2045).
func (c *Channel) Compose(m models.Message, address string) (string, error) {
	if m.ID == "" || hasControl(m.ID) || strings.ContainsAny(m.ID, "<> ") {
		return "", fmt.Errorf("compose: %q is no message id", m.ID)
	}
	to, err := mail.ParseAddress(address)
	if err != nil {
		return "", fmt.Errorf("compose: %q is no address: %w", address, err)
	}
	if to.Name == "" && strings.TrimSpace(m.Person) != "" {
		to.Name = m.Person
	}
	msg := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	msg.FromMailAddress(oneLineAddress(c.from))
	msg.ToMailAddress(oneLineAddress(*to))
	msg.Subject(Subject(m.Subject))
	msg.SetMessageIDWithValue(m.ID)
	msg.SetDateWithValue(m.Made)
	// A reply by a machine would end in a loop; this tells them (RFC 3834).
	msg.SetGenHeader("Auto-Submitted", "auto-generated")
	if m.Urgent {
		msg.SetImportance(gomail.ImportanceHigh)
	}
	if u := c.o.Unsubscribe; u != "" {
		if !strings.HasPrefix(u, "https://") {
			u = "mailto:" + u + "?subject=unsubscribe"
		}
		msg.SetGenHeader("List-Unsubscribe", "<"+u+">")
	}
	if err := c.fillBody(msg, m); err != nil {
		return "", err
	}
	var out bytes.Buffer
	if _, err := msg.WriteTo(&out); err != nil {
		return "", fmt.Errorf("compose: %w", err)
	}
	return settleBoundaries(out.String(), m.ID), nil
}

// fillBody puts text, HTML and attachments in, or the short form alone.
func (c *Channel) fillBody(msg *gomail.Msg, m models.Message) error {
	if c.o.Short {
		msg.SetBodyString(gomail.TypeTextPlain, m.Short)
		return nil
	}
	msg.SetBodyString(gomail.TypeTextPlain, m.Text)
	if m.HTML != "" {
		msg.AddAlternativeString(gomail.TypeTextHTML, m.HTML)
	}
	for _, a := range m.Attachments {
		err := msg.AttachReader(fileName(a.Name), bytes.NewReader(a.Data), gomail.WithFileContentType(gomail.ContentType(oneLine(a.Type))))
		if err != nil {
			return fmt.Errorf("attach %s: %w", a.Name, err)
		}
	}
	return nil
}

// settleBoundaries replaces the library's random boundaries by ones taken
// from the message's ID. The library's own option sets one boundary for all
// levels, which nests wrongly. No part can hold text of this shape: parts are
// quoted-printable, where "=" is written "=3D", or base64.
func settleBoundaries(s, id string) string {
	shape := regexp.MustCompile(`boundary=([0-9a-f]{60})`)
	for n, found := range shape.FindAllStringSubmatch(s, -1) {
		sum := sha256.Sum256(fmt.Appendf(nil, "%s %d", id, n))
		s = strings.ReplaceAll(s, found[1], hex.EncodeToString(sum[:])[:60])
	}
	return s
}

// Subject makes text fit for a subject: one line of bounded length.
func Subject(s string) string {
	s = oneLine(s)
	if utf8.RuneCountInString(s) > longestSubject {
		s = strings.TrimSpace(string([]rune(s)[:longestSubject-3])) + "..."
	}
	return s
}

// oneLineAddress makes a name safe. A backslash beside letters outside ASCII
// is encoded by the standard library in a way that readers choke on.
func oneLineAddress(a mail.Address) *mail.Address {
	return &mail.Address{Name: strings.ReplaceAll(oneLine(a.Name), `\`, "/"), Address: oneLine(a.Address)}
}

// oneLine turns control characters, line breaks of every kind among them,
// into spaces, so that no header can be smuggled in.
func oneLine(s string) string {
	s = strings.ToValidUTF8(s, "?")
	return strings.Join(strings.Fields(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == '\u2028' || r == '\u2029' {
			return ' '
		}
		return r
	}, s)), " ")
}

func hasControl(s string) bool { return strings.ContainsFunc(s, unicode.IsControl) }

// fileName keeps letters, digits, dots, dashes and underscores of ASCII.
func fileName(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < utf8.RuneSelf && (unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune(".-_", r)) {
			return r
		}
		return '-'
	}, s)
	return strings.TrimLeft(s, ".")
}
