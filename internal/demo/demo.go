// Package demo holds the built-in demonstration: the configuration of an
// invented boat and port, and a recording of invented weather in the real
// services' formats. Package gen makes the recording.
package demo

import (
	"embed"
	"io/fs"
)

//go:embed recording
var recording embed.FS

//go:embed demo.yaml
var configuration []byte

// ConfigName is what errors call the demo's configuration.
const ConfigName = "demo.yaml"

// Config is the demo's configuration.
func Config() []byte { return append([]byte(nil), configuration...) }

// Recording is the demo's recording.
func Recording() fs.FS {
	sub, err := fs.Sub(recording, "recording")
	if err != nil {
		panic("demo: the recording is not embedded: " + err.Error())
	}
	return sub
}
