package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
)

const aboutVersion = `
Prints the version, the Go release it was built with, and the platform.`

func runVersion(_ context.Context, w world, args []string) int {
	rest, code, stop := parse(flagSet(w, "version", "", aboutVersion), w, args)
	if stop {
		return code
	}
	if len(rest) > 0 {
		return fail(w.stderr, exitUsage, fmt.Errorf("version takes no argument %q", rest[0]))
	}
	_, err := fmt.Fprintf(w.stdout, "forecastd %s (%s, %s/%s)\n", version(), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return written(w, err)
}

// version is what the toolchain stamped into the program: the tag or commit
// that it was built from, or "devel" where it could not know.
func version() string {
	info, ok := debug.ReadBuildInfo()
	if !ok || info.Main.Version == "" || info.Main.Version == "(devel)" {
		return "devel"
	}
	return info.Main.Version
}
