package app

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"time"

	"forecastd/internal/models"
	"forecastd/internal/notify"
	"forecastd/internal/web"
)

// done makes the pages look again after something was said, and tells the
// operator what was done by whom; guests are not named there.
func (p pages) done(e *engine, port, what string, by web.Role, told string, err error) (string, error) {
	if err == nil {
		p.d.log.Info("done by the pages", "what", what, "by", string(by), "port", port)
		e.boards.changed(port)
		e.nudge()
	}
	return told, err
}

// Report keeps what was seen.
func (p pages) Report(ctx context.Context, port string, said []string, by web.Role) (models.Phrase, error) {
	e, at, err := p.at(port)
	if err != nil {
		return models.Phrase{}, err
	}
	told, err := e.app.Report(ctx, at.Name, said, string(by))
	_, err = p.done(e, at.Name, "report", by, "", err)
	return told, err
}

// CountBait keeps a count of the pen.
func (p pages) CountBait(ctx context.Context, port, kind string, count int, source models.BaitSource, by web.Role) (string, error) {
	e, at, err := p.at(port)
	if err != nil {
		return "", err
	}
	told, err := e.app.Bait(ctx, at.Name, models.Tally{Kind: kind, Count: count, Source: source, Another: source != ""}) // the pages name the lot
	return p.done(e, at.Name, "bait counted", by, told, err)
}

// WriteLog keeps an entry of the log.
func (p pages) WriteLog(ctx context.Context, port string, l web.LogEntry, by web.Role) (string, error) {
	e, at, err := p.at(port)
	if err != nil {
		return "", err
	}
	told, err := e.app.Log(ctx, LogRequest{
		Port: at.Name, By: string(by), Date: l.Date, Tactic: l.Tactic, Ride: l.Ride, Wind: l.Wind, Sea: l.Sea, Raised: l.Raised, Caught: l.Caught, Note: l.Note,
	})
	return p.done(e, at.Name, "log", by, told, err)
}

// MoveCharter puts a booking on another day or other times.
func (p pages) MoveCharter(ctx context.Context, port, id string, to models.Date, start, end models.Opt[models.Clock], why string, by web.Role) (string, error) {
	e, at, err := p.at(port)
	if err != nil {
		return "", err
	}
	told, err := e.app.MoveCharter(ctx, at.Name, id, to, start, end, why)
	return p.done(e, at.Name, "charter moved", by, strings.Join(told, "\n"), err)
}

// CancelCharter calls a booking off.
func (p pages) CancelCharter(ctx context.Context, port, id, why string, by web.Role) (string, error) {
	e, at, err := p.at(port)
	if err != nil {
		return "", err
	}
	told, err := e.app.CancelCharter(ctx, at.Name, id, why)
	return p.done(e, at.Name, "charter cancelled", by, strings.Join(told, "\n"), err)
}

// AnswerDraft lets the message to the guests go out, or not.
func (p pages) AnswerDraft(ctx context.Context, draft string, approve bool, by web.Role) (string, error) {
	e, _, err := p.at("")
	if err != nil {
		return "", err
	}
	told, err := e.app.AnswerDraft(ctx, draft, approve, string(by))
	if err == nil {
		e.nudge()
	}
	return told, err
}

// CheckIn says that the boat is back inside.
func (p pages) CheckIn(ctx context.Context, port string, date models.Date, by web.Role) (string, error) {
	e, at, err := p.at(port)
	if err != nil {
		return "", err
	}
	said, err := e.app.CheckIn(ctx, at.Name, date, string(by))
	if err == nil {
		signal(e.back) // those ashore are told at once
	}
	return said, err
}

// askAgain is how long the services are left in peace between two calls that
// somebody asks for.
const askAgain = time.Minute

// CallNow asks the sources and judges again.
func (p pages) CallNow(ctx context.Context, port string, _ models.Date, _ web.Role) (string, error) {
	e, at, err := p.at(port)
	if err != nil {
		return "", err
	}
	if age := p.d.now().Sub(e.sees.of(at.Name).At); age < askAgain {
		e.boards.changed(at.Name)
		return fmt.Sprintf("the services were asked %.0f s ago: what they said is judged again", age.Seconds()), nil
	}
	if err := e.runner.RunNow(ctx, collectJob(at)); err != nil {
		return "", err
	}
	return "the services were asked, and the days ahead are judged anew", nil
}

// Promise tells what a signed link would do.
func (p pages) Promise(ctx context.Context, token string) (web.Promise, error) {
	claim, err := notify.Verify(p.d.key, token, p.d.now())
	if err != nil {
		return web.Promise{}, errors.Join(err, web.ErrNoLink)
	}
	used, err := p.d.store.Used(ctx, claim.Nonce)
	if err != nil {
		return web.Promise{}, err
	}
	if used {
		return web.Promise{}, errors.Join(notify.ErrUsed, web.ErrNoLink)
	}
	promise := web.Promise{Action: string(claim.Action), Expires: claim.Expires}
	switch claim.Action {
	case notify.ActionApprove:
		drafts, err := p.d.store.Outbox().Drafts(ctx, p.d.now())
		if err != nil {
			return promise, err
		}
		for _, d := range drafts {
			if d.ID == claim.Subject {
				promise.About, promise.Text = d.Message.Person, d.Message.Text
				return promise, nil
			}
		}
	case notify.ActionCheckIn:
		port, date, ok := checkInOf(claim.Subject)
		if e, _, err := p.at(port); err == nil && ok {
			promise.About = fmt.Sprintf("%s, %s", e.cfg.Boat.Name, date)
			return promise, nil
		}
	}
	return web.Promise{}, fmt.Errorf("what the link is about is answered or gone: %w", web.ErrNoLink)
}

// Redeem does what a signed link stands for, once.
func (p pages) Redeem(ctx context.Context, token string) (string, error) {
	if _, err := p.Promise(ctx, token); err != nil {
		return "", err
	}
	claim, err := notify.Redeem(ctx, p.d.key, token, p.d.now(), p.d.store)
	if errors.Is(err, notify.ErrUsed) || errors.Is(err, notify.ErrExpired) || errors.Is(err, notify.ErrForged) {
		return "", errors.Join(err, web.ErrNoLink)
	}
	if err != nil {
		return "", err
	}
	if claim.Action == notify.ActionApprove {
		return p.AnswerDraft(ctx, claim.Subject, true, byLink)
	}
	port, date, _ := checkInOf(claim.Subject)
	return p.CheckIn(ctx, port, date, byLink)
}

// byLink is who speaks by a signed link.
const byLink web.Role = "link"

// checkInOf reads the subject of a link to check in.
func checkInOf(subject string) (port string, date models.Date, ok bool) {
	day, port, ok := strings.Cut(subject, " ")
	date, err := models.ParseDate(day)
	return port, date, ok && err == nil
}

// link is the address of a signed link; empty where no address of the pages is
// configured.
func (e *engine) link(action notify.Action, subject string, expires time.Time) (string, error) {
	if e.cfg.Pages.Address == "" {
		return "", nil
	}
	nonce, err := notify.NewNonce(random())
	if err != nil {
		return "", err
	}
	return e.cfg.Pages.Address + "/link/" + notify.Mint(e.d.key, notify.Claim{Action: action, Subject: subject, Expires: expires, Nonce: nonce}), nil
}

// scores keep what was scored for the pages, by port and days.
type scores struct {
	mu   sync.Mutex
	held map[string]scored
}

type scored struct {
	at    time.Time
	days  int
	score web.Score
}

const scoreAgain = 30 * time.Minute

// of answers a score, from memory where it is young enough. One is made at a
// time.
func (s *scores) of(port string, days int, now time.Time, score func() (web.Score, error)) (web.Score, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if h, ok := s.held[port]; ok && h.days == days && now.Sub(h.at) < scoreAgain {
		return h.score, nil
	}
	fresh, err := score()
	if err == nil {
		s.held[port] = scored{now, days, fresh}
	}
	return fresh, err
}
