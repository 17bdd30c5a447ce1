package store

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
)

// Lock keeps a state folder for one daemon. It ends with the process, however
// that ends.
type Lock struct{ dir *os.File }

// Holder is who has a state folder.
type Holder struct {
	// Command is what it does: serve or restore.
	Command string    `json:"command"`
	PID     int       `json:"pid"`
	Since   time.Time `json:"since"`
}

// HeldError says that another daemon has the folder.
type HeldError struct {
	Dir string
	// Holder is zero where it left no word.
	Holder Holder
	// Age is how long it has it.
	Age time.Duration
}

// Error tells who has it and what to do.
func (e *HeldError) Error() string {
	who := "another process"
	if e.Holder.PID != 0 {
		who = fmt.Sprintf("another forecastd %s (process %d, running for %s)", e.Holder.Command, e.Holder.PID, e.Age.Round(time.Second))
	}
	return fmt.Sprintf("%s has the store in %s: stop it first, or name another folder with -state DIR", who, e.Dir)
}

// holderName is the file in which the daemon tells who it is.
const holderName = "forecastd.daemon"

// errLocked says that somebody else has it.
var errLocked = errors.New("locked")

// LockDir takes a state folder, which is made where it is missing, for a
// command that must be alone with it. It answers a *HeldError where another has
// it. On a file system that has no locks nobody is noticed.
func LockDir(dir, command string, now func() time.Time) (*Lock, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fault("open the store in "+dir, err)
	}
	f, err := os.Open(dir)
	if err != nil {
		return nil, fault("open the store in "+dir, err)
	}
	if err := lockFile(f); err != nil {
		err = errors.Join(err, f.Close())
		if !errors.Is(err, errLocked) {
			return nil, fault("open the store in "+dir, err)
		}
		held := &HeldError{Dir: dir}
		if b, bad := os.ReadFile(filepath.Join(dir, holderName)); bad == nil && json.Unmarshal(b, &held.Holder) == nil {
			held.Age = max(0, now().Sub(held.Holder.Since))
		}
		return nil, held
	}
	b, err := json.Marshal(Holder{Command: command, PID: os.Getpid(), Since: now().UTC().Truncate(time.Second)})
	if err == nil {
		// A full disk takes no word; the folder is held all the same.
		_ = os.WriteFile(filepath.Join(dir, holderName), append(b, '\n'), 0o600)
	}
	return &Lock{dir: f}, nil
}

// Release gives the folder back.
func (l *Lock) Release() error {
	if l == nil || l.dir == nil {
		return nil
	}
	err := os.Remove(filepath.Join(l.dir.Name(), holderName))
	if errors.Is(err, os.ErrNotExist) {
		err = nil
	}
	err = errors.Join(err, l.dir.Close())
	l.dir = nil
	return fault("give the state folder back", err)
}
