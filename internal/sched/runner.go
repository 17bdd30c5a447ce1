package sched

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"runtime/debug"
	"strings"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/robfig/cron/v3"

	"forecastd/internal/models"
)

// Errors that RunNow answers before anything has run.
var (
	ErrUnknownJob = errors.New("there is no such job")
	ErrRunning    = errors.New("it is running already")
	ErrStopped    = errors.New("the scheduler is not running")
)

// errTimeout is the cause of a run's context that ended with its time limit.
var errTimeout = errors.New("the run's time limit has passed")

// recording bounds how long a record may take to be kept, also when
// everything else is told to end.
const recording = 10 * time.Second

// Ledger remembers runs beyond the life of the process. Its methods may be
// called by several goroutines. A ledger that fails is logged; the jobs run
// all the same.
type Ledger interface {
	// LastSuccess returns the newest instant, not after notAfter, that a run
	// of a job which went well was due at; unknown if there is none.
	LastSuccess(ctx context.Context, job string, notAfter time.Time) (models.Opt[time.Time], error)
	// BeginRun keeps a run that begins, and returns its number.
	BeginRun(ctx context.Context, run models.Run) (int64, error)
	// EndRun keeps how the run of that number ended.
	EndRun(ctx context.Context, run models.Run) error
}

// Options are what a Runner is made of. Ledger is needed; the rest has
// defaults.
type Options struct {
	Ledger Ledger
	// Now is the clock that schedules are asked in; nil means time.Now. It
	// may be off the wall clock and jump, but runs at its pace.
	Now func() time.Time
	// Logger hears what goes on; nil is silent.
	Logger *slog.Logger
	// Registerer gets the metrics; nil keeps them to ourselves.
	Registerer prometheus.Registerer
}

// Runner runs jobs. Add all, Start, and Stop at the end.
type Runner struct {
	ledger  Ledger
	now     func() time.Time
	log     *slog.Logger
	metrics *metrics
	cron    *cron.Cron
	jobs    []*tracked

	mu      sync.Mutex
	alive   bool // between Start and Stop
	started bool
	ctx     context.Context // of all runs
	cancel  context.CancelFunc
	runs    sync.WaitGroup
}

// New builds a Runner.
func New(o Options) (*Runner, error) {
	if o.Ledger == nil {
		return nil, errors.New("scheduler: a ledger is needed")
	}
	r := &Runner{ledger: o.Ledger, now: o.Now, log: o.Logger}
	if r.now == nil {
		r.now = time.Now
	}
	if r.log == nil {
		r.log = slog.New(slog.DiscardHandler)
	}
	m, err := newMetrics(o.Registerer)
	if err != nil {
		return nil, fmt.Errorf("register metrics of the scheduler: %w", err)
	}
	r.metrics = m
	r.cron = cron.New(cron.WithLocation(time.UTC), cron.WithLogger(cronLog{r.log}))
	return r, nil
}

// Add takes a job on. All jobs are added before Start.
func (r *Runner) Add(j Job) error {
	if err := j.validate(); err != nil {
		return fmt.Errorf("job %q: %w", j.Name, err)
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.started {
		return fmt.Errorf("job %q: jobs are added before the scheduler starts", j.Name)
	}
	if r.find(j.Name) != nil {
		return fmt.Errorf("job %q: there is one of that name", j.Name)
	}
	t := &tracked{Job: j}
	r.jobs = append(r.jobs, t)
	r.metrics.runs.WithLabelValues(j.Name, string(models.RunOK))
	r.metrics.panics.WithLabelValues(j.Name)
	r.metrics.skipped.WithLabelValues(j.Name)
	r.metrics.success.WithLabelValues(j.Name)
	r.cron.Schedule(shifted{j.Schedule, r.now}, cron.FuncJob(func() { r.check(t) }))
	return nil
}

// Start begins to run jobs until Stop is called or ctx ends, and at once makes
// up what was missed. It may be called once.
func (r *Runner) Start(ctx context.Context) error {
	r.mu.Lock()
	if r.started {
		r.mu.Unlock()
		return errors.New("scheduler: started already")
	}
	r.started, r.alive = true, true
	r.ctx, r.cancel = context.WithCancel(ctx)
	r.mu.Unlock()
	r.metrics.success.Reset() // jobs that a Runner before had, and this one has not
	for _, t := range r.jobs {
		r.metrics.success.WithLabelValues(t.Name)
		// What lies farther ahead was done while the clock was wrong.
		last, err := r.ledger.LastSuccess(ctx, t.Name, r.now().UTC().Add(little))
		if err != nil {
			r.log.ErrorContext(ctx, "can't tell when the job last went well", "job", t.Name, "error", err)
		}
		if due, ok := last.Get(); ok {
			t.mu.Lock()
			t.claimed, t.success = due, due
			t.mu.Unlock()
			r.metrics.success.WithLabelValues(t.Name).Set(float64(due.Unix()))
		}
	}
	// The heartbeat bounds how long cron sleeps, which is all that helps
	// after the clock was set back or the host was asleep, and finds what is
	// due by our own clock and what is to be tried again.
	r.cron.Schedule(cron.Every(time.Minute), cron.FuncJob(r.checkAll))
	r.cron.Start()
	r.checkAll()
	return nil
}

// Stop cancels the runs under way and waits for them to end, no longer than
// ctx. It names those that did not.
func (r *Runner) Stop(ctx context.Context) error {
	r.mu.Lock()
	wasAlive := r.alive
	r.alive = false
	r.mu.Unlock()
	if !wasAlive {
		return nil
	}
	r.cancel()
	drained := r.cron.Stop()
	ended := make(chan struct{})
	go func() {
		<-drained.Done() // cron's own goroutines only start runs
		r.runs.Wait()
		close(ended)
	}()
	select {
	case <-ended:
		return nil
	case <-ctx.Done():
		var left []string
		for _, s := range r.States() {
			if s.Running {
				left = append(left, s.Name)
			}
		}
		return fmt.Errorf("wait for jobs to end: %w (still running: %s)", ctx.Err(), strings.Join(left, ", "))
	}
}

// RunNow runs a job at once and returns how it ended: nil or the job's error.
// It answers ErrRunning, ErrUnknownJob or ErrStopped where it can't begin.
func (r *Runner) RunNow(ctx context.Context, name string) error {
	t := r.find(name)
	if t == nil {
		return fmt.Errorf("job %q: %w", name, ErrUnknownJob)
	}
	if !r.enter() {
		return ErrStopped
	}
	defer r.runs.Done()
	run, err := t.ask(r.now().UTC())
	if err != nil {
		return err
	}
	both, cancel := context.WithCancelCause(r.ctx)
	defer cancel(nil)
	defer context.AfterFunc(ctx, func() { cancel(ctx.Err()) })()
	return r.do(both, t, run)
}

// States tells where each job stands, in the order they were added.
func (r *Runner) States() []State {
	list := make([]State, len(r.jobs))
	for i, t := range r.jobs {
		list[i] = t.state(r.now())
	}
	return list
}

func (r *Runner) find(name string) *tracked {
	for _, t := range r.jobs {
		if t.Name == name {
			return t
		}
	}
	return nil
}

// enter counts a run that begins, unless the Runner is stopped.
func (r *Runner) enter() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.alive || r.ctx.Err() != nil {
		return false
	}
	r.runs.Add(1)
	return true
}

func (r *Runner) checkAll() {
	for _, t := range r.jobs {
		r.check(t)
	}
}

// check starts a run of the job if one is due, missed or to be tried again.
// Cron's timer and the heartbeat both come here, often at the same instant:
// only one of them can claim it.
func (r *Runner) check(t *tracked) {
	if !r.enter() {
		return
	}
	run, ok, skipped := t.claim(r.now().UTC().Round(0))
	if skipped {
		r.metrics.skipped.WithLabelValues(t.Name).Inc()
		r.log.WarnContext(r.ctx, "job is due but still runs", "job", t.Name)
	}
	if !ok {
		r.runs.Done()
		return
	}
	go func() {
		defer r.runs.Done()
		_ = r.do(r.ctx, t, run) // recorded and logged
	}()
}

// do runs a job that was claimed, records it and lets it go.
func (r *Runner) do(ctx context.Context, t *tracked, run models.Run) error {
	began := time.Now()
	id, err := r.record(ctx, "begins", t.Name, func(ctx context.Context) (int64, error) { return r.ledger.BeginRun(ctx, run) })
	run.ID = id
	recorded := err == nil

	limited, cancel := context.WithTimeoutCause(ctx, t.Timeout, errTimeout)
	defer cancel()
	stack, err := guard(limited, t.Do, &run)
	now := r.now().UTC().Round(0)
	run.Ended, run.Outcome = models.Known(now), outcome(limited, err, stack)
	if err != nil {
		run.Error = err.Error()
	}
	if recorded {
		_, _ = r.record(ctx, "ended", t.Name, func(ctx context.Context) (int64, error) { return 0, r.ledger.EndRun(ctx, run) })
	}
	t.release(run, now)
	r.tell(ctx, run, time.Since(began), stack)
	return err
}

// record keeps something in the ledger, also while everything is told to end.
func (r *Runner) record(ctx context.Context, what, job string, keep func(context.Context) (int64, error)) (int64, error) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), recording)
	defer cancel()
	id, err := keep(ctx)
	if err != nil {
		r.log.ErrorContext(ctx, "can't record that a run "+what, "job", job, "error", err)
	}
	return id, err
}

// guard calls a job and turns a panic into an error and its stack.
func guard(ctx context.Context, do func(context.Context, *models.Run) error, run *models.Run) (stack []byte, err error) {
	defer func() {
		if p := recover(); p != nil {
			stack, err = debug.Stack(), fmt.Errorf("panic: %v", p)
		}
	}()
	return nil, do(ctx, run)
}

func outcome(ctx context.Context, err error, stack []byte) models.RunOutcome {
	switch {
	case stack != nil:
		return models.RunPanicked
	case err == nil:
		return models.RunOK
	case ctx.Err() == nil:
		return models.RunFailed
	case errors.Is(context.Cause(ctx), errTimeout):
		return models.RunTimedOut
	}
	return models.RunCancelled
}

func (r *Runner) tell(ctx context.Context, run models.Run, took time.Duration, stack []byte) {
	r.metrics.runs.WithLabelValues(run.Job, string(run.Outcome)).Inc()
	r.metrics.duration.WithLabelValues(run.Job).Observe(took.Seconds())
	attrs := []any{"job", run.Job, "run", run.ID, "trigger", run.Trigger, "due", run.Due, "outcome", run.Outcome, "took", took}
	switch run.Outcome {
	case models.RunOK:
		r.metrics.success.WithLabelValues(run.Job).Set(float64(run.Due.Unix()))
		r.log.InfoContext(ctx, "job done", attrs...)
	case models.RunCancelled:
		r.log.InfoContext(ctx, "job cancelled", attrs...)
	case models.RunPanicked:
		r.metrics.panics.WithLabelValues(run.Job).Inc()
		r.log.ErrorContext(ctx, "job panicked", append(attrs, "error", run.Error, "stack", string(stack))...)
	case models.RunFailed, models.RunTimedOut, models.RunCutOff:
		r.log.WarnContext(ctx, "job failed", append(attrs, "error", run.Error)...)
	default:
		r.log.ErrorContext(ctx, "job ended in a way that nobody knows", append(attrs, "error", run.Error)...)
	}
}

// shifted asks a schedule in the time of an injected clock and answers on the
// wall clock, which is what cron reads.
type shifted struct {
	inner Schedule
	now   func() time.Time
}

// Next returns the next time that it is due, on the wall clock.
func (s shifted) Next(wall time.Time) time.Time {
	// To the millisecond: two readings of the same clock lie a little apart.
	offset := s.now().Round(0).Sub(time.Now().Round(0)).Round(time.Millisecond)
	next := s.inner.Next(wall.Add(offset))
	if next.IsZero() {
		return next
	}
	return next.Add(-offset)
}

// cronLog passes on what cron says.
type cronLog struct{ log *slog.Logger }

// Info tells of routine.
func (l cronLog) Info(msg string, keysAndValues ...any) {
	l.log.Debug("cron: "+msg, keysAndValues...)
}

// Error tells of trouble.
func (l cronLog) Error(err error, msg string, keysAndValues ...any) {
	l.log.Error("cron: "+msg, append(keysAndValues, "error", err)...)
}
