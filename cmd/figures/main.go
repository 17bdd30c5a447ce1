// Command figures draws the figures of docs/physics.md from the physics itself,
// and those of docs/judgement.md from calls and from what make calibrate found.
// Run it from the root of the checkout:
//
//	go run ./cmd/figures
package main

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"

	"forecastd/internal/draw"
)

func main() {
	out := flag.String("out", filepath.Join("docs", "img"), "write the figures into this `FOLDER`")
	flag.Parse()
	if err := run(".", *out); err != nil {
		fmt.Fprintln(os.Stderr, "figures:", err)
		os.Exit(1)
	}
}

// pages are the figures of each page of docs, by the names of their files.
func pages(root string) (map[string]map[string]draw.Plot, error) {
	c, err := calibrated(root)
	if err != nil {
		return nil, err
	}
	return map[string]map[string]draw.Plot{"physics.md": figures(), "judgement.md": judgement(c)}, nil
}

func run(root, dir string) error {
	all, err := pages(root)
	if err != nil {
		return err
	}
	for _, page := range all {
		for name, plot := range page {
			svg, err := plot.SVG()
			if err != nil {
				return fmt.Errorf("draw %s: %w", name, err)
			}
			if err := os.WriteFile(filepath.Join(dir, name+".svg"), svg, 0o644); err != nil {
				return fmt.Errorf("keep %s: %w", name, err)
			}
		}
	}
	return nil
}
