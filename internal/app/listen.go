package app

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"time"

	"forecastd/config"
)

// doorway is where the daemon answers: an address and the server behind it. The
// zero doorway is shut.
type doorway struct {
	listener net.Listener
	server   *http.Server
	served   chan struct{} // closed when the server is done
}

// shut answers no more, once what was asked before is answered.
func (o *doorway) shut(ctx context.Context) error {
	if o.server == nil {
		return nil
	}
	err := o.server.Shutdown(ctx)
	if err != nil {
		err = fmt.Errorf("stop answering: %w", err)
	}
	<-o.served
	*o = doorway{}
	return err
}

// address is where the daemon listens by a configuration.
func (d *Daemon) address(cfg *config.Config) string {
	if d.o.Listen != "" {
		return d.o.Listen
	}
	return cfg.Daemon.Listen
}

// Addr is where the daemon listens; empty where it does not.
func (d *Daemon) Addr() string {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.door.listener == nil {
		return ""
	}
	return d.door.listener.Addr().String()
}

// listen opens the door at an address.
func (d *Daemon) listen(ctx context.Context, addr string) error {
	if addr == ListenOff {
		return nil
	}
	l, err := new(net.ListenConfig).Listen(ctx, "tcp", addr)
	if err != nil {
		return fmt.Errorf("listen on %s: %w: is another forecastd running, or something else on that port? name another with -listen", addr, err)
	}
	server := &http.Server{Handler: d.Handler(), ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 30 * time.Second, WriteTimeout: time.Minute, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10}
	done := make(chan struct{})
	d.mu.Lock()
	d.door = doorway{l, server, done}
	d.mu.Unlock()
	go func() {
		defer close(done)
		if err := server.Serve(l); !errors.Is(err, http.ErrServerClosed) {
			d.log.Error("the daemon no longer answers", "error", err)
		}
	}()
	return nil
}

// shutDoor shuts the door, if one is open.
func (d *Daemon) shutDoor(ctx context.Context) error {
	d.mu.Lock()
	old := d.door
	d.door = doorway{}
	d.mu.Unlock()
	return old.shut(ctx)
}

// move listens at another address. The old one is left first, since both may
// be of one port; where the new one can't be had, the old one is taken again.
func (d *Daemon) move(ctx context.Context, from, to string) error {
	if from == to {
		return nil
	}
	if err := d.shutDoor(ctx); err != nil {
		d.log.Warn("some who had asked at the old address got no answer", "listen", from, "error", err)
	}
	if err := d.listen(ctx, to); err != nil {
		return errors.Join(err, d.listen(ctx, from))
	}
	d.log.Info("listens at another address", "listen", d.Addr())
	return nil
}
