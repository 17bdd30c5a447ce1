// Webload asks for a page so many times a second and tells how long the
// answers took and how large the page is with all that it draws on.
package main

import (
	"errors"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"regexp"
	"time"

	vegeta "github.com/tsenart/vegeta/v12/lib"
)

func main() {
	base := flag.String("base", "http://127.0.0.1:8416", "address of the pages")
	path := flag.String("path", "/", "page")
	rate := flag.Int("rate", 300, "requests a second")
	lasts := flag.Duration("for", 20*time.Second, "how long")
	flag.Parse()
	if err := run(*base, *path, *rate, *lasts); err != nil {
		fmt.Fprintln(os.Stderr, "webload:", err)
		os.Exit(1)
	}
}

func run(base, path string, rate int, lasts time.Duration) error {
	page, err := get(base + path)
	if err != nil {
		return err
	}
	total := len(page)
	fmt.Printf("%-40s %7d bytes\n", path, len(page))
	seen := map[string]bool{}
	for _, m := range regexp.MustCompile(`(?:href|src)="(/static/[^"]+|/manifest\.webmanifest)"`).FindAllSubmatch(page, -1) {
		p := string(m[1])
		if seen[p] {
			continue
		}
		seen[p] = true
		b, err := get(base + p)
		if err != nil {
			return err
		}
		total += len(b)
		fmt.Printf("%-40s %7d bytes\n", p, len(b))
	}
	fmt.Printf("%-40s %7d bytes\n", "all in, uncompressed", total)

	target := vegeta.NewStaticTargeter(vegeta.Target{Method: http.MethodGet, URL: base + path})
	var m vegeta.Metrics
	for r := range vegeta.NewAttacker().Attack(target, vegeta.Rate{Freq: rate, Per: time.Second}, lasts, path) {
		m.Add(r)
	}
	m.Close()
	fmt.Printf("%d requests at %.0f/s: p50 %s, p95 %s, p99 %s, longest %s\n", m.Requests, m.Rate, m.Latencies.P50, m.Latencies.P95, m.Latencies.P99, m.Latencies.Max)
	fmt.Printf("%.0f bytes an answer, %.2f %% answered well\n", m.BytesIn.Mean, 100*m.Success)
	if m.Success < 1 {
		return fmt.Errorf("not every request was answered well: %v %v", m.StatusCodes, m.Errors)
	}
	return nil
}

// get reads one document.
func get(url string) (b []byte, err error) {
	res, err := http.Get(url)
	if err != nil {
		return nil, fmt.Errorf("ask: %w", err)
	}
	defer func() { err = errors.Join(err, res.Body.Close()) }()
	if res.StatusCode != http.StatusOK {
		return nil, fmt.Errorf("%s answers %s", url, res.Status)
	}
	return io.ReadAll(res.Body)
}
