package door

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"strings"
	"time"

	"forecastd/internal/models"
)

// deviceLasts is how long a browser is known as one that was logged in.
const deviceLasts = 365 * 24 * time.Hour

// Why a login was refused.
var (
	ErrRole  = errors.New("nobody logs in by that name")
	ErrEmpty = errors.New("that can be no passphrase")
	ErrWrong = errors.New("that is not the passphrase")
)

// Crowded tells how long to wait where too many wait to log in.
func Crowded(err error) (time.Duration, bool) {
	var c *crowd
	if !errors.As(err, &c) {
		return 0, false
	}
	return c.wait, true
}

// Login lets in who knows the passphrase of a role. Who gives one waits for
// his turn; the request is answered when it is over.
func (d *Door) Login(w http.ResponseWriter, r *http.Request, role Role, passphrase string) error {
	hash, ok := d.hashes[role]
	switch {
	case !ok:
		return ErrRole
	case passphrase == "" || len(passphrase) > longestPassphrase:
		return ErrEmpty
	}
	from := d.origins.of(r)
	leave, err := d.gate.enter(r.Context(), d.device(r, role), from)
	if err != nil {
		d.logCrowd(role)
		return err
	}
	right := hash.match(passphrase)
	leave(right)
	if !right {
		d.o.Logger.Warn("a login was refused", "role", string(role), "from", from.String())
		return ErrWrong
	}
	if before, ok := sessionOf(r); ok {
		d.end(r.Context(), before)
	}
	one, err := d.begin(r.Context(), role, d.o.Now())
	if err != nil {
		return err
	}
	device, err := d.nonce()
	if err != nil {
		return err
	}
	d.o.Logger.Info("somebody logged in", slog.String("role", string(role)), slog.String("from", from.String()))
	d.setCookie(w, r, "session", d.writeSession(one), one.Expires.Sub(one.Issued))
	d.setCookie(w, r, "device", d.writeDevice(role, device), deviceLasts)
	return nil
}

// logCrowd tells the operator, once a minute.
func (d *Door) logCrowd(role Role) {
	now := d.o.Now().Unix()
	if last := d.crowded.Load(); now/60 != last/60 && d.crowded.CompareAndSwap(last, now) {
		d.o.Logger.Warn("logins are turned away: too many wait", "role", string(role))
	}
}

// writeDevice is the cookie by which a browser is known that was logged in: it
// lets nobody in, but its tries are not held up by those of strangers.
func (d *Door) writeDevice(role Role, nonce string) string {
	return string(role) + "." + nonce + "." + d.Sign("device", string(role), nonce)
}

// device is the device that a request comes from, if it was logged in before
// under the role; else it is empty.
func (d *Door) device(r *http.Request, role Role) string {
	value, _ := d.cookie(r, "device")
	parts := strings.Split(value, ".")
	if len(value) > 256 || len(parts) != 3 || parts[0] != string(role) || !d.Signed(parts[2], "device", parts[0], parts[1]) {
		return ""
	}
	return parts[1]
}

// end takes a session out of the books. Where the store can't be written it is
// remembered as ended until the next start.
func (d *Door) end(ctx context.Context, one session) {
	for _, book := range []Book{d.unkept, d.o.Book} {
		if err := book.End(ctx, one.token()); err != nil {
			d.o.Logger.Error("that a login was ended can't be kept: after a restart its cookie would count again", "role", string(one.Role), "error", err)
			_ = d.ended.Begin(ctx, models.Session{Token: one.token(), Expires: one.Expires}) // memory takes all
		}
	}
}

// Logout ends the visitor's session.
func (d *Door) Logout(w http.ResponseWriter, r *http.Request) {
	if one, ok := sessionOf(r); ok {
		d.end(context.WithoutCancel(r.Context()), one)
	}
	d.setCookie(w, r, "session", "", 0)
}

// LogoutEverywhere ends all sessions of the visitor's role, and where he is
// the captain the others' too.
func (d *Door) LogoutEverywhere(w http.ResponseWriter, r *http.Request) error {
	roles := []Role{RoleOf(r)}
	if roles[0] == Captain {
		roles = Roles()
	}
	var errs []error
	for _, role := range roles {
		for _, book := range []Book{d.unkept, d.o.Book} {
			errs = append(errs, book.EndAll(context.WithoutCancel(r.Context()), string(role), ""))
		}
	}
	if err := errors.Join(errs...); err != nil {
		return err
	}
	d.o.Logger.Info("all logins were ended", "by", string(RoleOf(r)))
	d.setCookie(w, r, "session", "", 0)
	return nil
}
