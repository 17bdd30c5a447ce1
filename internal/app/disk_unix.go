//go:build linux || darwin

package app

import "syscall"

// freeDisk is how many bytes are free for us where a folder is; false where
// that can't be told.
func freeDisk(dir string) (int64, bool) {
	var fs syscall.Statfs_t
	if err := syscall.Statfs(dir, &fs); err != nil {
		return 0, false
	}
	return int64(fs.Bavail) * int64(fs.Bsize), true
}
