package config

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
)

// Problem is one mistake in a configuration file. The error of Load joins all
// that were found, in the order of the file.
type Problem struct {
	File         string
	Line, Column int
	// Path is where in the file, by keys: "ports[0].grounds[1].depth". It is
	// empty where the file can't be read as YAML at all.
	Path string
	// Text says what is wrong and what to write instead.
	Text string
}

// Error prints "forecastd.yaml:12:5: ports[0].zone: what is wrong: the cure".
func (p *Problem) Error() string {
	s := fmt.Sprintf("%s:%d:%d: ", p.File, p.Line, p.Column)
	if p.Path != "" {
		s += p.Path + ": "
	}
	return s + p.Text
}

// join sorts the problems by their place in the file and joins them.
func join(problems []*Problem) error {
	slices.SortStableFunc(problems, func(a, b *Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	errs := make([]error, len(problems))
	for i, p := range problems {
		errs[i] = p
	}
	return errors.Join(errs...)
}
