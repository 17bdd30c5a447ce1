//go:build unix

package app_test

import (
	"syscall"
	"time"
)

// processorTime is what this process has taken of the processor; zero where
// nobody can tell.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
