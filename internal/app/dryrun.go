package app

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"time"

	"forecastd/internal/store"
)

// dryState makes a folder with a copy of the store for a dry run, which works
// as ever and leaves nothing: an evening made dry is still to be made.
func dryState(ctx context.Context, state string, now func() time.Time, log *slog.Logger) (dir string, err error) {
	if dir, err = os.MkdirTemp("", "forecastd-dry-"); err != nil {
		return "", fmt.Errorf("make a folder for the dry run: %w", err)
	}
	st, err := OpenStore(ctx, state, true, now, log)
	if err == nil && st != nil {
		err = errors.Join(st.Backup(ctx, filepath.Join(dir, store.FileName)), st.Close())
	}
	if err != nil {
		return "", errors.Join(fmt.Errorf("copy the store for the dry run: %w", err), os.RemoveAll(dir))
	}
	return dir, nil
}
