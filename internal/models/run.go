package models

import (
	"encoding/json"
	"time"
)

// RunTrigger says why a job ran.
type RunTrigger string

// Triggers of a run.
const (
	RunScheduled RunTrigger = "scheduled"
	// RunLate makes up for a run that was missed.
	RunLate RunTrigger = "late"
	// RunRetry tries again what failed.
	RunRetry RunTrigger = "retry"
	// RunAsked was asked for by somebody.
	RunAsked RunTrigger = "asked"
)

// RunOutcome is how a run ended.
type RunOutcome string

// Outcomes of a run. Of these only RunOK counts as done.
const (
	RunOK        RunOutcome = "ok"
	RunFailed    RunOutcome = "failed"
	RunPanicked  RunOutcome = "panicked"
	RunTimedOut  RunOutcome = "timed out"
	RunCancelled RunOutcome = "cancelled"
	// RunCutOff ended with the process, which could not say so itself.
	RunCutOff RunOutcome = "cut off"
)

// Run is one run of a job of the daemon, kept so that it can be explained.
type Run struct {
	ID      int64
	Job     string
	Trigger RunTrigger
	// Due is the instant that the schedule asked for; a run that somebody
	// asked for is due when it was asked for.
	Due, Started time.Time
	// Ended is unknown, and Outcome empty, while it runs.
	Ended   Opt[time.Time]
	Outcome RunOutcome
	// Error is why it did not end well.
	Error string
	// Account tells what was asked, answered and decided, as a JSON document
	// of the job's own making; empty where it gave none.
	Account json.RawMessage
}
