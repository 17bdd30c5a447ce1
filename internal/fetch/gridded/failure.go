package gridded

import (
	"context"
	"errors"
	"net/http"
	"net/url"

	"forecastd/internal/models"
)

func kind(err error) models.Kind {
	var e *models.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return ""
}

// absent tells whether something is just not there, or not yet.
func absent(err error) bool {
	k := kind(err)
	return k == models.KindNotFound || k == models.KindNotRecorded
}

// ends tells whether after an error nothing more is to be asked: the caller
// has gone, or the service wants to be left alone.
func ends(ctx context.Context, err error) bool {
	return ctx.Err() != nil || kind(err) == models.KindRateLimited
}

// doubtful tells whether an error may come from asking for the wrong bytes.
func doubtful(err error) bool {
	var e *models.Error
	return errors.As(err, &e) && (e.Kind == models.KindBadContent || e.Kind == models.KindTooLarge || e.Status == http.StatusRequestedRangeNotSatisfiable)
}

// reason is an error without the address, to count those that are the same.
func reason(err error) string {
	var e *models.Error
	if !errors.As(err, &e) {
		return err.Error()
	}
	if e.Err != nil {
		return string(e.Kind) + ", " + e.Err.Error()
	}
	return string(e.Kind)
}

func rebase(address, base string) string {
	if base == "" {
		return address
	}
	u, err := url.Parse(address)
	if err != nil {
		return address
	}
	return base + u.RequestURI()
}
