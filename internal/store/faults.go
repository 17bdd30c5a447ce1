package store

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Faults that callers can tell apart. Each says what to do.
var (
	ErrNotFound = errors.New("there is no such record")
	ErrCorrupt  = errors.New("the file is damaged: restore a backup, or move it away to begin anew")
	ErrChanged  = errors.New("the backup is not what was written: take another one; nothing was changed")
	ErrForeign  = errors.New("the file is not a store of this program: name another one")
	ErrNewer    = errors.New("the file was written by a newer version of this program: use that version, or restore the copy it made before it changed the file")
	ErrFull     = errors.New("the disk is full: free some space, or lower the store's size limit")
	ErrReadOnly = errors.New("the file or its folder can't be written: check the owner and the rights")
	ErrBusy     = errors.New("another process holds the file: try again when it is done, or stop it")
	ErrDisk     = errors.New("the disk can't be read or written")
)

// fault wraps an error from the driver or the file system in one of ours and
// says what was being done.
func fault(doing string, err error) error {
	if err == nil {
		return nil
	}
	if kind := kindOf(err); kind != nil && !errors.Is(err, kind) {
		return fmt.Errorf("%s: %w (%w)", doing, kind, err)
	}
	return fmt.Errorf("%s: %w", doing, err)
}

func kindOf(err error) error {
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff { // the primary code
		case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
			return ErrCorrupt
		case sqlite3.SQLITE_FULL:
			return ErrFull
		case sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PERM:
			return ErrReadOnly
		case sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED:
			return ErrBusy
		case sqlite3.SQLITE_IOERR:
			return ErrDisk
		}
		return nil
	}
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return ErrFull
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return ErrReadOnly
	}
	return nil
}
