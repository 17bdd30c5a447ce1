package app

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"forecastd/internal/fetch"
	"forecastd/internal/models"
	"forecastd/internal/words"
)

// jobAsked is what the run of a call made by hand is called.
const jobAsked = "call by hand"

// SourceAccount is how one source did in a run.
type SourceAccount struct {
	Name    string   `json:"name"`
	State   string   `json:"state"`
	Age     float64  `json:"age_s"`
	Why     string   `json:"why,omitempty"`
	Skipped []string `json:"skipped,omitempty"`
}

// CallAccount is what the run of a call leaves behind.
type CallAccount struct {
	Asked   CallAsked       `json:"asked"`
	Sources []SourceAccount `json:"sources"`
	Got     CallGot         `json:"got"`
	// Verdict is empty where no call could be made.
	Verdict string   `json:"verdict,omitempty"`
	CallID  int64    `json:"call,omitempty"`
	Missing []string `json:"missing,omitempty"`
	Notes   []string `json:"notes,omitempty"`
}

// CallAsked is what was asked for.
type CallAsked struct {
	Port   string      `json:"port"`
	Ground string      `json:"ground"`
	Date   models.Date `json:"date"`
	// Trip is the times of the booking among several of the day.
	Trip string `json:"trip,omitempty"`
}

// CallGot counts what was got.
type CallGot struct {
	Series       int `json:"series"`
	Hours        int `json:"hours"`
	Observations int `json:"observations"`
	// Warnings is unknown where the feed failed.
	Warnings models.Opt[int] `json:"warnings"`
	Texts    int             `json:"texts"`
	Tides    int             `json:"tides"`
	Members  int             `json:"members"`
	History  int             `json:"history_days"`
}

// Account tells what went into a call.
func (c Called) Account() CallAccount {
	d, o := c.fetched, c.Outlook
	acc := CallAccount{
		Asked:   CallAsked{Port: o.Port.Name, Ground: o.Ground.Name, Date: o.Date},
		Sources: SourceAccounts(d.Sources), Notes: d.Notes,
		Got: CallGot{
			Series: len(d.Series), Observations: len(d.Observations), Texts: len(d.Texts), Tides: len(d.Tides), Members: len(o.Members), History: o.HistoryDays,
			Warnings: models.MapOpt(d.Warnings, func(w []models.Warning) int { return len(w) }),
		},
	}
	if !c.Alone {
		acc.Asked.Trip = tripName(o.Trip, "")
	}
	for _, s := range d.Series {
		acc.Got.Hours += len(s.Hours)
	}
	for _, g := range o.Missing {
		acc.Missing = append(acc.Missing, g.What+": "+g.Why)
	}
	if c.Call.Tactic != "" {
		acc.Verdict = fmt.Sprintf("%s, %s (%.0f %%)", c.Call.Tactic, c.Call.Confidence, 100*c.Call.Agreement)
	}
	return acc
}

// SourceAccounts tells how the sources did.
func SourceAccounts(list []fetch.Status) []SourceAccount {
	out := []SourceAccount{}
	for _, s := range list {
		a := SourceAccount{Name: s.Name, State: string(s.State), Age: s.Age.Seconds(), Skipped: s.Notes}
		if s.Err != nil {
			a.Why = s.Err.Error()
		}
		out = append(out, a)
	}
	return out
}

// tripAccounts is what the run of a day with several trips leaves behind.
type tripAccounts struct {
	Trips []CallAccount `json:"trips"`
}

// CallsByHand makes the calls that somebody asks for, and keeps them with the
// record of their run where there is a store. kept tells why that could not be
// done; the calls stand anyway. Where no call could be made of any trip, err
// tells why.
func (a *App) CallsByHand(ctx context.Context, req CallRequest) (list []Called, kept, err error) {
	started := a.now()
	list, err = a.CallsToCome(ctx, req)
	if err != nil {
		return nil, nil, err
	}
	err = Faults(list)
	if a.store == nil {
		return list, nil, err
	}
	var none *NoCallError
	if err != nil && !errors.As(err, &none) {
		return list, nil, err
	}
	var all tripAccounts
	for _, c := range list {
		acc := c.Account()
		if c.Fault == nil {
			var bad error
			acc.CallID, bad = a.Keep(ctx, c, true)
			kept = errors.Join(kept, bad)
		}
		all.Trips = append(all.Trips, acc)
	}
	var account any = all
	if len(list) == 1 {
		account = all.Trips[0]
	}
	doc, bad := json.Marshal(account)
	_, bad2 := a.recordRun(ctx, jobAsked, started, doc, err)
	return list, errors.Join(kept, bad, bad2), err
}

// Faults is why no call could be made of any of some trips; nil where one
// could.
func Faults(list []Called) error {
	for _, c := range list {
		if c.Fault == nil {
			return nil
		}
	}
	return list[0].Fault
}

// ErrNoRun says that nothing ran yet.
var ErrNoRun = errors.New("no run is kept yet: forecastd serve and forecastd call with a store keep theirs")

// Explain tells what became of a run: its number, or "last".
func (a *App) Explain(ctx context.Context, which string) (string, error) {
	st, err := a.needStore()
	if err != nil {
		return "", err
	}
	var r models.Run
	if which == "last" {
		const most = 50
		runs, err := st.Runs(ctx, "", most)
		if err != nil {
			return "", err
		}
		if len(runs) == 0 {
			return "", ErrNoRun
		}
		r = runs[0]
		for _, run := range runs { // what it learned in passing is not what was asked
			if run.Job != jobLearn {
				r = run
				break
			}
		}
	} else {
		id, err := strconv.ParseInt(which, 10, 64)
		if err != nil {
			return "", fmt.Errorf("%q is no run: write its number, last, or list", which)
		}
		if r, err = st.Run(ctx, id); err != nil {
			return "", fmt.Errorf("%w: `forecastd explain list` shows the newest", err)
		}
	}
	return a.runText(r), nil
}

// RunLines lists the newest runs, a line each.
func (a *App) RunLines(ctx context.Context, n int) ([]string, error) {
	st, err := a.needStore()
	if err != nil {
		return nil, err
	}
	runs, err := st.Runs(ctx, "", n)
	if err != nil {
		return nil, err
	}
	var out []string
	for _, r := range runs {
		line := fmt.Sprintf("%6d  %s  %s, %s", r.ID, r.Started.In(a.cfg.Ports[0].Zone).Format("2006-01-02 15:04"), r.Job, outcome(r))
		if r.Error != "" {
			line += ": " + firstLine(r.Error)
		}
		out = append(out, line)
	}
	return out, nil
}

func outcome(r models.Run) string {
	if r.Outcome == "" {
		return "still running"
	}
	return string(r.Outcome)
}

func firstLine(s string) string {
	line, _, _ := strings.Cut(s, "\n")
	return line
}

// runText tells a run with its account, whatever shape the job gave it.
func (a *App) runText(r models.Run) string {
	zone := a.cfg.Ports[0].Zone
	clock := func(t time.Time) string { return t.In(zone).Format("2006-01-02 15:04:05 MST") }
	var b strings.Builder
	if a.demo {
		b.WriteString(words.DemoNotice() + "\n\n")
	}
	fmt.Fprintf(&b, "run %d: %s, %s\n", r.ID, r.Job, outcome(r))
	fmt.Fprintf(&b, "  why      %s\n  due      %s\n  started  %s\n", r.Trigger, clock(r.Due), clock(r.Started))
	if end, ok := r.Ended.Get(); ok {
		fmt.Fprintf(&b, "  ended    %s, after %s\n", clock(end), end.Sub(r.Started).Round(time.Second))
	}
	for line := range strings.Lines(r.Error) {
		fmt.Fprintf(&b, "  error    %s\n", strings.TrimRight(line, "\n"))
	}
	if len(r.Account) == 0 {
		b.WriteString("\nIt left no account.\n")
		return b.String()
	}
	b.WriteString("\n")
	tree, err := readTree(json.NewDecoder(bytes.NewReader(r.Account)))
	if err != nil {
		b.Write(r.Account) // as it is: better than nothing
		b.WriteString("\n")
		return b.String()
	}
	tree.write(&b, 0)
	return b.String()
}

// node is a JSON value with its keys in the order they were written.
type node struct {
	key   string
	value string // of a leaf
	kids  []node
	leaf  bool
	list  bool
}

func readTree(dec *json.Decoder) (node, error) {
	dec.UseNumber()
	tok, err := dec.Token()
	if err != nil {
		return node{}, err
	}
	delim, ok := tok.(json.Delim)
	if !ok {
		v := fmt.Sprint(tok)
		if tok == nil {
			v = "unknown"
		}
		return node{value: v, leaf: true}, nil
	}
	n := node{list: delim == '['}
	for dec.More() {
		key := ""
		if !n.list {
			k, err := dec.Token()
			if err != nil {
				return node{}, err
			}
			key = fmt.Sprint(k)
		}
		kid, err := readTree(dec)
		if err != nil {
			return node{}, err
		}
		kid.key = key
		n.kids = append(n.kids, kid)
	}
	_, err = dec.Token()
	return n, err
}

// write tells a tree as indented words, an entry of a list behind each dash.
func (n node) write(b *strings.Builder, depth int) {
	pad := strings.Repeat("  ", depth)
	for _, k := range n.kids {
		name := strings.ReplaceAll(k.key, "_", " ")
		switch {
		case k.leaf && n.list:
			fmt.Fprintf(b, "%s- %s\n", pad, oneLine(k.value))
		case k.leaf:
			fmt.Fprintf(b, "%s%s: %s\n", pad, name, oneLine(k.value))
		case len(k.kids) == 0:
			fmt.Fprintf(b, "%s%s: none\n", pad, name)
		case n.list:
			fmt.Fprintf(b, "%s- %s\n", pad, k.inline())
		default:
			fmt.Fprintf(b, "%s%s\n", pad, name)
			k.write(b, depth+1)
		}
	}
	if n.leaf {
		fmt.Fprintf(b, "%s%s\n", pad, oneLine(n.value))
	}
}

// inline tells an entry of a list in one line.
func (n node) inline() string {
	if n.leaf {
		return oneLine(n.value)
	}
	var parts []string
	for _, k := range n.kids {
		s := k.inline()
		if !k.leaf {
			s = "(" + s + ")"
		}
		if k.key != "" {
			s = strings.ReplaceAll(k.key, "_", " ") + " " + s
		}
		parts = append(parts, s)
	}
	return strings.Join(parts, ", ")
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
