// Package sched says when: it runs the daemon's jobs on schedules of civil
// time or of UTC, each job never twice at once, and exactly once for each
// instant that its schedule names.
//
// Schedules are [Daily] for what people wait for (exactly once each civil
// day, also where the clock change takes that time away or brings it twice),
// [Every] for polling, aligned to when a product appears, and [Parse] for the
// five fields of a crontab.
//
// A [Runner] keeps the rules: a panic ends the run and not the daemon; a run
// that overlaps the one before is skipped and counted; each run has a time
// limit and a context that Stop cancels; what was missed while the daemon was
// down, the host asleep or the clock wrong is made up, as long as the job says
// it is still worth it; what failed is tried again. Each run is told to a
// [Ledger] when it begins and when it ends.
//
// Underneath runs robfig/cron, which reads the wall clock. A clock that was
// injected (a replay, a test) may lie elsewhere: each schedule is asked in the
// injected time and its answer shifted back.
package sched
