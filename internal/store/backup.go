package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// stamp is an instant as a part of a file's name.
func stamp(t time.Time) string { return t.UTC().Format("20060102T150405Z") }

// Backup writes a copy of the store, whole and consistent, to a new file while
// work goes on. It refuses a file that exists.
func (s *Store) Backup(ctx context.Context, file string) error {
	doing := "back up to " + file
	// SQLite takes a name that is not whole from where its own file is.
	file, err := filepath.Abs(file)
	if err != nil {
		return fault(doing, err)
	}
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("%s: there is such a file: name another one", doing)
	}
	half := file + ".part"
	if err := os.Remove(half); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return fault(doing, err)
	}
	if err := vacuumInto(ctx, s.path, half); err != nil {
		return fault(doing, errors.Join(err, discard(half)))
	}
	if _, err := inspect(ctx, half, quickCheck); err != nil {
		return fault(doing, errors.Join(err, discard(half)))
	}
	if err := writeSum(half, file+sumTail); err != nil {
		return fault(doing, errors.Join(err, discard(half)))
	}
	return fault(doing, errors.Join(os.Rename(half, file), syncDir(file)))
}

func discard(file string) error {
	if err := os.Remove(file); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}

// vacuumInto copies a database, with what its journal still holds, into a new
// file, for the owner alone and safely on the disk. It takes a connection of
// its own: those that only read may not make files.
func vacuumInto(ctx context.Context, from, to string) error {
	f, err := os.OpenFile(to, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer f.Close()
	db, err := connect(from, 1)
	if err == nil {
		_, err = db.ExecContext(ctx, "VACUUM INTO ?", to)
		err = errors.Join(err, db.Close())
	}
	if err != nil {
		return errors.Join(err, discard(to))
	}
	return f.Sync()
}

// syncDir makes the name of a file safe on the disk.
func syncDir(file string) error {
	d, err := os.Open(filepath.Dir(file))
	if err != nil {
		return err
	}
	defer d.Close()
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) && !errors.Is(err, fs.ErrInvalid) {
		return err
	}
	return nil
}

// Restore puts a backup in the place of the store at o.Path, which nobody may
// have open. The backup is held against the checksum beside it, if there is
// one, and checked throughout first: one that is damaged,
// foreign or newer than the program is refused and nothing changes. What was
// there is kept beside the new file under the name returned; empty where
// nothing was. A process killed in between leaves the old file or the new one.
func Restore(ctx context.Context, backup string, o Options) (aside string, err error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	doing := "restore " + backup
	if backup, err = filepath.Abs(backup); err != nil {
		return "", fault(doing, err)
	}
	aside, err = restore(ctx, backup, o)
	return aside, fault(doing, err)
}

func restore(ctx context.Context, backup string, o Options) (string, error) {
	path, err := filepath.Abs(o.Path)
	if err != nil {
		return "", err
	}
	if err := checkSum(backup); err != nil {
		return "", err
	}
	found, err := inspect(ctx, backup, fullCheck)
	if err != nil {
		return "", err
	}
	fsys, err := o.schema()
	if err != nil {
		return "", err
	}
	want, err := target(fsys)
	switch {
	case err != nil:
		return "", err
	case found.empty:
		return "", errors.New("the file is empty: nothing to restore")
	case found.version > want:
		return "", fmt.Errorf("%w (its schema is %d, ours %d)", ErrNewer, found.version, want)
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return "", err
	}
	next := path + ".restored"
	if err := discard(next); err != nil {
		return "", err
	}
	if err := vacuumInto(ctx, backup, next); err != nil {
		return "", errors.Join(err, discard(next))
	}
	if err := endLogins(ctx, next); err != nil {
		return "", errors.Join(err, discard(next))
	}
	if err := ownedAs(next, path); err != nil {
		return "", errors.Join(err, discard(next))
	}
	aside, err := setAside(ctx, path, path+".before-restore-"+stamp(o.Now()))
	if err != nil {
		return "", errors.Join(err, discard(next))
	}
	return aside, errors.Join(os.Rename(next, path), syncDir(path))
}

// endLogins ends the logins that a restored file holds: some of them may have
// been ended since it was copied. An older file may have none.
func endLogins(ctx context.Context, path string) (err error) {
	db, err := connect(path, 1)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	there, err := one(ctx, db, "look for logins", integerOf, "SELECT count(*) FROM sqlite_schema WHERE name = 'sessions'")
	if err != nil || there == 0 {
		return err
	}
	_, err = db.ExecContext(ctx, "DELETE FROM sessions")
	return err
}

// setAside gives what is at path a second name, and makes sure that the
// journal of the old file can't be taken for that of the new one.
func setAside(ctx context.Context, path, aside string) (string, error) {
	if info, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) || err == nil && info.Size() == 0 {
		return "", nil
	}
	if err := foldJournal(ctx, path); err != nil {
		if kind := kindOf(err); kind != ErrCorrupt {
			return "", err
		}
		// A damaged file is why one restores: its journal goes aside with it.
		for _, tail := range []string{"-wal", "-shm"} {
			if err := os.Rename(path+tail, aside+tail); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return "", err
			}
		}
	}
	if err := os.Link(path, aside); err == nil {
		return aside, nil
	}
	// A file system without hard links.
	return aside, plainCopy(path, aside)
}

// foldJournal moves the journal's content into the file and removes it, which
// SQLite does only for who is alone with the file.
func foldJournal(ctx context.Context, path string) (err error) {
	// Who has it for longer than a moment has it open.
	db, err := connect(path, 1, "_pragma=busy_timeout(250)")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	var mode string
	if err := db.QueryRowContext(ctx, "PRAGMA journal_mode=DELETE").Scan(&mode); err != nil {
		return err
	}
	if !strings.EqualFold(mode, "delete") {
		return ErrBusy
	}
	return nil
}

func plainCopy(from, to string) error {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer in.Close()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Sync(), out.Close())
}
