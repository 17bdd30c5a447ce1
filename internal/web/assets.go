package web

import (
	"crypto/sha256"
	"fmt"
	"io/fs"
	"strings"
)

// asset is a file that is served as it is.
type asset struct {
	Body []byte
	// Tag names its content.
	Tag string
}

// readAssets reads the embedded files by their path below static.
func readAssets() (map[string]asset, error) {
	list := map[string]asset{}
	err := fs.WalkDir(staticFiles, "static", func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := staticFiles.ReadFile(p)
		if err != nil {
			return err
		}
		list[strings.TrimPrefix(p, "static/")] = asset{Body: b, Tag: fmt.Sprintf(`"%x"`, sha256.Sum256(b))[:18] + `"`}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("read the embedded files: %w", err)
	}
	return list, nil
}
