package scoring_test

import (
	"flag"
	"os"
	"testing"
)

// TestMain draws the same random days in every run of CI, so that what it says
// is of the change and not of the draw, and three times as many as usual.
// Everywhere else each run draws others; `make explore` draws fifty times as
// many.
func TestMain(m *testing.M) {
	flag.Parse()
	if os.Getenv("CI") == "true" && flag.Lookup("rapid.seed").Value.String() == "0" {
		for name, value := range map[string]string{"rapid.seed": "20270119", "rapid.checks": "300"} {
			if err := flag.Set(name, value); err != nil {
				panic(err)
			}
		}
	}
	m.Run()
}
