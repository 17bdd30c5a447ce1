package app

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"forecastd/internal/store"
)

// standInName is the folder, inside the state folder, of the store that stands
// in for a damaged one.
const standInName = "while-damaged"

// openStore opens the store. Where it is damaged another one stands in, so
// that calls and warnings are still told, and that it is damaged above all.
func (d *Daemon) openStore(ctx context.Context) (err error) {
	d.store, err = OpenStore(ctx, d.o.State, false, d.now, d.log)
	if err == nil {
		// Whole again: what stood in holds guests' names, and is of no more use.
		return os.RemoveAll(filepath.Join(d.o.State, standInName))
	}
	if !errors.Is(err, store.ErrCorrupt) {
		return err
	}
	damage := err
	if d.store, err = d.openStandIn(ctx); err != nil {
		return errors.Join(damage, err)
	}
	d.damage = damage
	d.log.Error("the store is damaged: another one stands in for it", "store", d.store.Path(), "error", damage)
	return nil
}

func (d *Daemon) openStandIn(ctx context.Context) (*store.Store, error) {
	st, err := OpenStore(ctx, filepath.Join(d.o.State, standInName), false, d.now, d.log)
	if err != nil {
		return nil, fmt.Errorf("open a store to stand in for the damaged one: %w", err)
	}
	return st, nil
}

// watchStore waits until the store is found damaged, until Stop.
func (d *Daemon) watchStore() {
	ctx, cancel := context.WithCancel(context.Background())
	d.unwatch, d.watched = cancel, make(chan struct{})
	damaged, done := d.store.Damaged(), d.watched
	if d.damage != nil {
		damaged = nil // it stands in already
	}
	go func() {
		defer close(done)
		select {
		case <-ctx.Done():
		case <-damaged:
			if err := d.standIn(ctx); err != nil {
				d.log.Error("the store is damaged, and nothing can stand in for it", "error", err)
			}
		}
	}()
}

// standIn puts another store in the place of one that was found damaged while
// the daemon works, with an engine over it.
func (d *Daemon) standIn(ctx context.Context) error {
	d.reloading.Lock()
	defer d.reloading.Unlock()
	before := d.current()
	if before == nil {
		return nil // stopping
	}
	st, err := d.openStandIn(ctx)
	if err != nil {
		return err
	}
	ending, cancel := context.WithTimeout(context.WithoutCancel(ctx), graceful)
	defer cancel()
	damaged := d.store
	d.damage = damaged.Ready(ctx)
	d.log.Error("the store is damaged: another one stands in for it", "store", st.Path(), "error", d.damage)
	d.store = st
	next, err := d.newEngine(before.cfg, before)
	if err != nil {
		d.store, d.damage = damaged, nil
		return errors.Join(err, st.Close())
	}
	d.swap(nil)
	if err := before.stop(ending); err != nil {
		d.log.Warn("the work over the damaged store did not end cleanly", "error", err)
	}
	if err := damaged.Close(); err != nil {
		d.log.Warn("the damaged store did not close cleanly", "error", err)
	}
	d.swap(next)
	return next.start()
}
