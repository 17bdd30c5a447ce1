package app

import (
	"io/fs"
	"time"

	"forecastd/config"
	"forecastd/internal/demo"
	"forecastd/internal/fetch/replay"
)

// ReplayOptions turns to a recording, and away from all else. The clock starts
// when the recording was made and runs on, unless clockGiven says that
// Options.Now is to be taken as it is.
func ReplayOptions(o Options, recording fs.FS, clockGiven bool) (Options, error) {
	m, err := replay.ReadManifest(recording)
	if err != nil {
		return o, err
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if !clockGiven {
		wall, start := o.Now, o.Now()
		o.Now = func() time.Time { return m.AsOf.Add(wall().Sub(start)) }
	}
	o.Demo = o.Demo || m.Demo
	o.Transport, err = replay.Open(recording, o.Now)
	return o, err
}

// DemoOptions are those of the built-in invented boat, coast and weather.
func DemoOptions(o Options, clockGiven bool) (Options, error) {
	cfg, err := config.Load(demo.ConfigName, demo.Config())
	if err != nil {
		return o, err
	}
	o.Config, o.Demo = cfg, true
	return ReplayOptions(o, demo.Recording(), clockGiven)
}

// NewReplay builds an App that asks a recording and nothing else.
func NewReplay(o Options, recording fs.FS, clockGiven bool) (*App, error) {
	o, err := ReplayOptions(o, recording, clockGiven)
	if err != nil {
		return nil, err
	}
	return New(o)
}

// NewDemo builds an App on the built-in invented boat, coast and weather.
func NewDemo(o Options, clockGiven bool) (*App, error) {
	o, err := DemoOptions(o, clockGiven)
	if err != nil {
		return nil, err
	}
	return New(o)
}
