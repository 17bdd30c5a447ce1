//go:build !linux && !darwin

package app

// freeDisk can't be told here.
func freeDisk(string) (int64, bool) { return 0, false }
