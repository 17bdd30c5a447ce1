package httpx

import (
	"bytes"
	"compress/flate"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Want is what a body has to look like before anyone parses it.
type Want int

// Kinds of body. Text, JSON and XML may come as a gzip file under any name,
// which is unpacked within the same limit.
const (
	Any  Want = iota
	Text      // not HTML, no zero bytes
	JSON      // an object or array
	XML       // a document that is not HTML
	GRIB      // begins with the four letters
)

var errTooLarge = errors.New("over the limit")

func (w Want) mayBeGzip() bool { return w == Text || w == JSON || w == XML }

// check tells what is wrong with the first bytes of a body. Content types are
// only told, not believed: services send JSON as text/html and the other way.
func (w Want) check(body []byte, contentType string) error {
	head := body[:min(len(body), 1024)]
	start := bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n")
	not := func(what string) error {
		return fmt.Errorf("the body is no %s (content type %q): it begins %q", what, contentType, oneLine(string(start[:min(len(start), 40)]), 40))
	}
	if w != Any && looksHTML(start) {
		return errors.New("the body is a web page, not data")
	}
	switch w {
	case Text:
		if bytes.IndexByte(head, 0) >= 0 {
			return not("text")
		}
	case JSON:
		if len(start) == 0 || start[0] != '{' && start[0] != '[' {
			return not("JSON")
		}
	case XML:
		if len(start) == 0 || start[0] != '<' {
			return not("XML")
		}
	case GRIB:
		if !bytes.HasPrefix(head, []byte("GRIB")) {
			return not("GRIB")
		}
	}
	return nil
}

func looksHTML(start []byte) bool {
	s := strings.ToLower(string(start[:min(len(start), 256)]))
	for _, tag := range []string{"<!doctype html", "<html", "<head", "<body", "<title", "<h1", "<script", "<meta", "<center", "<div"} {
		if strings.HasPrefix(s, tag) {
			return true
		}
	}
	return strings.HasPrefix(s, "<?xml") && strings.Contains(s, "<html") ||
		strings.HasPrefix(s, "<!--") && strings.Contains(s, "<html")
}

// readLimited reads all, or errTooLarge after limit bytes. What was read
// comes with the error. The hint is the length expected, or negative.
func readLimited(r io.Reader, limit, hint int64) ([]byte, error) {
	var buf bytes.Buffer
	if hint > 0 {
		buf.Grow(int(min(hint, limit, 1<<20)) + bytes.MinRead)
	}
	_, err := buf.ReadFrom(io.LimitReader(r, limit+1))
	if int64(buf.Len()) > limit {
		return nil, errTooLarge
	}
	return buf.Bytes(), err
}

func hasGzipMagic(b []byte) bool { return len(b) > 2 && b[0] == 0x1f && b[1] == 0x8b }

func gunzip(body []byte, limit int64) ([]byte, error) {
	z, err := gzip.NewReader(bytes.NewReader(body))
	if err != nil {
		return nil, err
	}
	return readLimited(z, limit, -1)
}

// isGzip tells whether a transport failed to unpack what it got.
func isGzip(err error) bool {
	var corrupt flate.CorruptInputError
	return errors.Is(err, gzip.ErrHeader) || errors.Is(err, gzip.ErrChecksum) || errors.As(err, &corrupt)
}
