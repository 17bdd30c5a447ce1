package config

import _ "embed"

//go:embed example.yaml
var example []byte

// exampleFile is the file that shows every key, with comments. Boat, port
// and coast in it are invented.
func exampleFile() []byte { return append([]byte(nil), example...) }
