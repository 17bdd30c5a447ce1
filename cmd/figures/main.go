// Command figures draws the figures of docs/physics.md from the physics itself.
// Run it from the root of the checkout:
//
//	go run ./cmd/figures
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
)

func main() {
	out := flag.String("out", filepath.Join("docs", "img"), "write the figures into this `FOLDER`")
	flag.Parse()
	if err := run(*out); err != nil {
		fmt.Fprintln(os.Stderr, "figures:", err)
		os.Exit(1)
	}
}

func run(dir string) error {
	for name, plot := range figures() {
		svg, err := plot.SVG()
		if err != nil {
			return fmt.Errorf("draw %s: %w", name, err)
		}
		if err := os.WriteFile(filepath.Join(dir, name+".svg"), svg, 0o644); err != nil {
			return fmt.Errorf("keep %s: %w", name, err)
		}
	}
	return nil
}
