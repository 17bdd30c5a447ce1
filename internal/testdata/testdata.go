// Package testdata finds the real public files that tests read in place. It
// is imported by tests only.
package testdata

import (
	"os"
	"path/filepath"
	"testing"
)

// Dir returns a folder of the real public sample files ("obs", "grib/real",
// "tides"). They stand beside the checkout at ../shared/data, or where the
// environment variable FORECASTD_DATA says. Where they are absent the test is
// skipped, and with CI=true it fails instead.
func Dir(t testing.TB, name string) string {
	t.Helper()
	root := os.Getenv("FORECASTD_DATA")
	if root == "" {
		root = filepath.Join(Shared(), "data")
	}
	return need(t, filepath.Join(root, filepath.FromSlash(name)), "the real public sample files")
}

// Cases returns the folder of the invented expert days, ../shared/cases.
func Cases(t testing.TB) string {
	t.Helper()
	return need(t, filepath.Join(Shared(), "cases"), "the invented expert days")
}

// Shared returns the folder that stands beside the checkout.
func Shared() string { return filepath.Join(Root(), "..", "shared") }

// Root returns the root of the checkout: the first folder with a go.mod at or
// above the one that the test runs in. It does not ask the compiler, so that
// tests built with -trimpath find it too.
func Root() string {
	start, err := os.Getwd()
	if err != nil {
		return "."
	}
	for dir := start; ; dir = filepath.Dir(dir) {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if dir == filepath.Dir(dir) {
			return start
		}
	}
}

// Skip skips a test that needs what this machine has not got, and fails it
// with CI=true.
func Skip(t testing.TB, why string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatalf("CI must not skip: %s", why)
	}
	t.Skip(why)
}

func need(t testing.TB, dir, what string) string {
	t.Helper()
	if _, err := os.Stat(dir); err != nil {
		Skip(t, what+" are not beside this checkout: "+filepath.Base(dir)+" is absent")
	}
	return dir
}
