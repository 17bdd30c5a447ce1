package notify

import (
	"context"
	"fmt"
	"io"
	"strings"
	"sync"

	"forecastd/internal/models"
)

// DryRun is a channel that sends nothing and shows what would be sent. Put it
// in place of each channel, over a Memory ledger, so that nothing is taken for
// told.
type DryRun struct {
	// Channel is the name of the channel that it stands for.
	Channel string
	Out     io.Writer
	mu      sync.Mutex
}

// Send writes the message out.
func (d *DryRun) Send(_ context.Context, m models.Message, address string) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	var b strings.Builder
	fmt.Fprintf(&b, "--- would send by %s to %s <%s>: %s (%s)\nSubject: %s\nShort: %s\n", d.Channel, m.Person, address, m.Notice, m.Reason, m.Subject, m.Short)
	for _, a := range m.Attachments {
		fmt.Fprintf(&b, "Attached: %s (%s, %d octets)\n", a.Name, a.Type, len(a.Data))
	}
	fmt.Fprintf(&b, "\n%s\n", m.Text)
	if _, err := io.WriteString(d.Out, b.String()); err != nil {
		return &models.Error{Kind: models.KindServer, Source: "dry run", Err: fmt.Errorf("write the message: %w", err)}
	}
	return nil
}
