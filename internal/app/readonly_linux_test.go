package app_test

import (
	"os"
	"runtime"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"
)

// asNobody runs f with no rights to others' files. The superuser's thread
// gives up its rights on the file system for that time, since it would write
// anywhere.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	const nobody = 65534
	if os.Geteuid() != 0 {
		f()
		return
	}
	runtime.LockOSThread()
	defer runtime.UnlockOSThread()
	require.NoError(t, syscall.Setfsuid(nobody))
	defer func() { require.NoError(t, syscall.Setfsuid(0)) }()
	f()
}
