// Command demogen makes the recording of the demo: it stands in for every public
// service of an invented coast, lets the real program ask it, and keeps the
// answers. Run it from the root of the checkout:
//
//	go run ./cmd/demogen
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"time"

	"forecastd/config"
	"forecastd/internal/app"
	"forecastd/internal/demo"
	"forecastd/internal/fetch/replay"
)

func main() {
	out := flag.String("out", "internal/demo/recording", "write the recording to this `FOLDER`, which is emptied first")
	flag.Parse()
	if err := run(*out); err != nil {
		fmt.Fprintln(os.Stderr, "demogen:", err)
		os.Exit(1)
	}
}

func run(out string) error {
	if err := os.RemoveAll(out); err != nil {
		return fmt.Errorf("empty the folder: %w", err)
	}
	cfg, err := config.Load(demo.ConfigName, demo.Config())
	if err != nil {
		return err
	}
	rec, err := replay.NewRecorder(replay.RecorderOptions{
		Dir: out, Transport: newServices(), Now: asOf, Demo: true, Hosts: hosts(),
		About:   "DEMO: invented data. An invented coast, its stations, its weather and its warnings, in the real services' formats.",
		Licence: func(string) string { return "invented for forecastd, Apache-2.0" },
	})
	if err != nil {
		return err
	}
	a, err := app.New(app.Options{Config: cfg, Transport: rec, Now: asOf, Demo: true})
	if err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Minute)
	defer cancel()
	for _, ground := range cfg.Ports[0].Grounds {
		called, err := a.CallFor(ctx, app.CallRequest{Ground: ground.Name})
		if err != nil {
			return err
		}
		for _, g := range called.Outlook.Missing {
			fmt.Printf("%s lacks %s: %s\n", ground.Name, g.What, g.Why)
		}
	}
	for _, f := range a.Check(ctx) {
		fmt.Printf("%+v\n", f)
	}
	if err := rec.Close(); err != nil {
		return err
	}
	return a.Stop(ctx)
}
