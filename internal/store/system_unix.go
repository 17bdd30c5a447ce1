//go:build linux || darwin

package store

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
)

// ownedAs gives a new file the owner of the one that it takes the place of, or
// of the folder: who restores as root does not shut the daemon out.
func ownedAs(file, like string) error {
	info, err := os.Stat(like)
	if errors.Is(err, os.ErrNotExist) {
		info, err = os.Stat(filepath.Dir(file))
	}
	if err != nil {
		return err
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok || os.Geteuid() != 0 {
		return nil
	}
	return os.Chown(file, int(st.Uid), int(st.Gid))
}

// lockFile takes an open file or folder for this process alone.
func lockFile(f *os.File) error {
	for {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case errors.Is(err, syscall.EINTR):
		case errors.Is(err, syscall.EWOULDBLOCK):
			return errLocked
		case errors.Is(err, syscall.ENOTSUP), errors.Is(err, syscall.ENOSYS), errors.Is(err, syscall.EBADF), errors.Is(err, syscall.EINVAL), errors.Is(err, syscall.ENOLCK):
			return nil // some file systems of networks and virtual machines
		default:
			return err
		}
	}
}
