package sched

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"forecastd/internal/models"
)

// Grace is how late a run may begin and still count as on time: the heartbeat
// that finds what the clock jumped over comes each minute.
const Grace = 2 * time.Minute

// little is how far the clock may be set back, and what ran before still
// counts as done: time steps and mistaken zones, but not wrong days.
const little = 3 * time.Hour

// Job is something to do on a schedule.
type Job struct {
	// Name tells the job in records, logs and metrics; it never changes.
	Name     string
	Schedule Schedule
	// Timeout ends the context of a run. It is shorter than the time between
	// two runs.
	Timeout time.Duration
	// Late is how long after it was due a run that was missed, skipped or
	// failed is still worth making. Of several missed only the last is made
	// up. Anything under Grace counts as Grace.
	Late time.Duration
	// Retry is the wait before a failed run is tried again, within Late; 0
	// leaves it at one try.
	Retry time.Duration
	// Do does the work for the instant that run.Due names, which may lie a
	// while back. It honours ctx, may leave its account in run, and touches
	// nothing else in it. It may be called again for the same instant after a
	// crash: what it does outside must bear that.
	Do func(ctx context.Context, run *models.Run) error
}

func (j Job) validate() error {
	switch {
	case j.Name == "" || j.Schedule == nil || j.Do == nil:
		return errors.New("a job needs a name, a schedule and something to do")
	case j.Timeout <= 0:
		return errors.New("it needs a time limit")
	case j.Retry < 0 || j.Late < 0:
		return errors.New("a wait can't be negative")
	}
	first := j.Schedule.Next(time.Date(2027, 1, 1, 0, 0, 0, 0, time.UTC))
	if first.IsZero() {
		return errors.New("it is never due")
	}
	if second := j.Schedule.Next(first); !second.IsZero() && j.Timeout >= second.Sub(first) {
		return fmt.Errorf("its time limit of %v is no shorter than the %v between two runs", j.Timeout, second.Sub(first))
	}
	return nil
}

// State is where a job stands.
type State struct {
	Name string
	Next time.Time
	// Success is when the last run that went well was due.
	Success models.Opt[time.Time]
	Running bool
	// Fault is why the last run did not end well; empty where it did.
	Fault string
}

// tracked is a job and what became of it. Its mutex also orders one run after
// the other, so that a job may keep state between its runs.
type tracked struct {
	Job

	mu      sync.Mutex
	running bool
	// claimed is the newest instant that was run for; zero where none was.
	claimed time.Time
	// skipped is the newest instant at which a run was still under way.
	skipped time.Time
	// undone tells that the run for claimed did not end well.
	undone  bool
	success time.Time // due
	ended   time.Time
	fault   string
}

// claim takes the instant that is due at now, if any, for a run. skipped tells
// that something is newly due but the run before has not ended.
func (t *tracked) claim(now time.Time) (run models.Run, ok, skipped bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.claimed.After(now) && t.clockWentBack(now) {
		t.claimed, t.skipped, t.undone = time.Time{}, time.Time{}, false
	}
	late := max(t.Late, Grace)
	from := t.claimed
	if oldest := now.Add(-late); from.Before(oldest) {
		from = oldest
	}
	run = models.Run{Job: t.Name, Trigger: models.RunScheduled, Started: now}
	due, ok := latest(t.Schedule, from, now)
	switch {
	case ok && t.running:
		skipped = due.After(t.skipped)
		t.skipped = due
		return run, false, skipped
	case ok && now.Sub(due) > Grace:
		run.Trigger = models.RunLate
	case ok:
	case t.running || !t.undone || t.Retry == 0 || now.Before(t.ended.Add(t.Retry)) || now.Sub(t.claimed) > late:
		return run, false, false
	default:
		due, run.Trigger = t.claimed, models.RunRetry
	}
	run.Due, t.claimed, t.running = due, due, true
	return run, true, false
}

// clockWentBack tells whether now lies so far before the last instant run for
// that the clock must have been wrong then, and what was claimed with it means
// nothing. A clock set back by a little must not run the evening twice.
func (t *tracked) clockWentBack(now time.Time) bool {
	return t.claimed.Sub(now) > little || t.Schedule.Next(now).Before(t.claimed)
}

// ask takes the job for a run that somebody wants now.
func (t *tracked) ask(now time.Time) (models.Run, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.running {
		return models.Run{}, fmt.Errorf("job %q: %w", t.Name, ErrRunning)
	}
	t.running = true
	return models.Run{Job: t.Name, Trigger: models.RunAsked, Due: now, Started: now}, nil
}

// release ends a run. What was asked for and went well stands for everything
// that was due before it.
func (t *tracked) release(run models.Run, now time.Time) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.running, t.ended, t.fault = false, now, run.Error
	if run.Outcome != models.RunOK {
		t.undone = t.undone || run.Trigger != models.RunAsked
		return
	}
	t.success = run.Due
	if !run.Due.Before(t.claimed) {
		t.claimed, t.undone = run.Due, false
	}
}

func (t *tracked) state(now time.Time) State {
	t.mu.Lock()
	defer t.mu.Unlock()
	s := State{Name: t.Name, Next: t.Schedule.Next(now), Running: t.running, Fault: t.fault}
	if !t.success.IsZero() {
		s.Success = models.Known(t.success)
	}
	return s
}
