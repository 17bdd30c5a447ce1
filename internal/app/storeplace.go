package app

import (
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"

	"forecastd/internal/store"
)

// StoreSearch is what says where the store of a configuration is.
type StoreSearch struct {
	// Config is the configuration's file.
	Config string
	// State is the folder asked for by name, and Environment that of the
	// service manager; empty where there is none.
	State, Environment string
	// Runtime are the folders in which a daemon may leave its note, beside the
	// configuration's own.
	Runtime []string
	// Packaged is the folder of the packaged daemon's store, where the
	// configuration is that of the package; empty else.
	Packaged string
}

// StorePlace is where the store of a configuration is.
type StorePlace struct {
	Dir string
	// Asked tells that it was asked for by name.
	Asked bool
	// Daemons tells that it is where the daemon keeps it, found by its note:
	// nobody else begins a store there.
	Daemons bool
	// Said is what people must know: which store it is and why, where that is
	// not plain. There are never two in silence.
	Said []string
}

// Find tells where the store is: the folder asked for, else that of the
// service manager, else where a daemon of the configuration keeps it, else
// beside the configuration.
func (s StoreSearch) Find() StorePlace {
	beside := filepath.Dir(s.Config)
	kept := s.kept()
	for _, own := range []string{s.State, s.Environment} {
		if own == "" {
			continue
		}
		p := StorePlace{Dir: own, Asked: own == s.State}
		switch {
		case kept != "" && !sameDir(kept, own):
			p.Said = append(p.Said, fmt.Sprintf("the store in %s is used, as asked for; the daemon of %s keeps its own in %s and never reads this one", own, s.Config, kept))
		case there(beside) && !sameDir(beside, own):
			p.Said = append(p.Said, fmt.Sprintf("the store in %s is used; another lies beside the configuration, in %s, which is not read: put its %s away", own, beside, store.FileName))
		}
		return p
	}
	if kept == "" || sameDir(kept, beside) {
		return StorePlace{Dir: beside}
	}
	p := StorePlace{Dir: kept, Daemons: true, Said: []string{fmt.Sprintf("the store is the daemon's, in %s", kept)}}
	if there(beside) {
		p.Said[0] += fmt.Sprintf("; another lies beside the configuration, in %s, which the daemon never reads: put its %s away, or name it with -state", beside, store.FileName)
	}
	return p
}

// kept is the folder in which a daemon keeps the store of the configuration;
// empty where none is known.
func (s StoreSearch) kept() string {
	for _, name := range s.notes() {
		b, err := os.ReadFile(name)
		if err != nil {
			continue
		}
		var n storeNote
		if json.Unmarshal(b, &n) == nil && filepath.IsAbs(n.Store) && there(n.Store) {
			return n.Store
		}
	}
	if s.Packaged != "" && there(s.Packaged) {
		return s.Packaged
	}
	return ""
}

// storeNote is what a daemon leaves for those who look for its store.
type storeNote struct {
	// Store is the folder, by its whole name.
	Store string `json:"store"`
}

// notes are where a daemon's note of the configuration may be, best first.
func (s StoreSearch) notes() []string {
	list := []string{s.Config + ".store"}
	whole, err := filepath.Abs(s.Config)
	if err != nil {
		return list
	}
	if real, err := filepath.EvalSymlinks(whole); err == nil {
		whole = real
	}
	sum := sha256.Sum256([]byte(whole))
	for _, dir := range s.Runtime {
		if dir != "" {
			list = append(list, filepath.Join(dir, fmt.Sprintf("%s-%x.store", filepath.Base(whole), sum[:4])))
		}
	}
	return list
}

// Leave notes for the commands where the daemon keeps the store: beside the
// configuration, or in the first other folder that can be written. A store
// beside the configuration is found without.
func (s StoreSearch) Leave(dir string) error {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return err
	}
	notes := s.notes()
	if sameDir(dir, filepath.Dir(s.Config)) {
		for _, name := range notes {
			if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return err
			}
		}
		return nil
	}
	b, err := json.Marshal(storeNote{Store: dir})
	if err != nil {
		return err
	}
	// The newest note is the one that counts, so those before it that can't
	// be written must not be there.
	var errs []error
	for _, name := range notes {
		err := writeWhole(name, append(b, '\n'))
		if err == nil {
			return nil
		}
		errs = append(errs, err)
		if old, bad := os.ReadFile(name); bad == nil && !slices.Equal(old, append(b, '\n')) {
			break
		}
	}
	return errors.Join(errs...)
}

// writeWhole writes a file that everybody may read, whole or not at all.
func writeWhole(name string, b []byte) error {
	f, err := os.CreateTemp(filepath.Dir(name), ".store-*")
	if err != nil {
		return err
	}
	_, err = f.Write(b)
	err = errors.Join(err, f.Chmod(0o644), f.Close())
	if err == nil {
		err = os.Rename(f.Name(), name)
	}
	if err != nil {
		return errors.Join(err, os.Remove(f.Name()))
	}
	return nil
}

// leaveNote tells the operator of another store of the configuration, and the
// commands where this one is.
func (d *Daemon) leaveNote() {
	if d.o.Search.Config == "" || d.o.DryRun != nil {
		return
	}
	for _, said := range d.o.Search.Find().Said {
		d.log.Warn("there is more than one place for the store", "used", d.o.State, "found", said)
	}
	if err := d.o.Search.Leave(d.o.State); err != nil {
		d.log.Warn("commands don't find the store by themselves: give them -state", "store", d.o.State, "error", err)
	}
}

// StoreThere tells whether a store is in a folder.
func StoreThere(dir string) bool { return there(dir) }

// there tells whether a store is in a folder, or may be: nobody can look into
// that of another user.
func there(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, store.FileName))
	return err == nil || errors.Is(err, fs.ErrPermission)
}

// sameDir tells whether two names are of one folder.
func sameDir(a, b string) bool {
	x, err := os.Stat(a)
	if err != nil {
		return filepath.Clean(a) == filepath.Clean(b)
	}
	y, err := os.Stat(b)
	return err == nil && os.SameFile(x, y)
}
