package config

import (
	"fmt"
	"slices"
	"strings"
)

// Reached tells whether the configuration has a way to an address.
func (c *Config) Reached(address string) bool {
	if strings.Contains(address, "://") {
		return c.Webhook.Known()
	}
	return address != "" && c.Mail.Known()
}

// anyReached tells whether messages are sent at all: who makes calls by command
// alone needs none.
func (c *Config) anyReached() bool {
	return slices.ContainsFunc(c.People, func(p Person) bool { return c.Reached(p.Address) || c.Reached(p.Second) })
}

// Unheard tells, a line each, what nobody would hear of, where anybody is sent
// anything.
func (c *Config) Unheard() []string {
	var list []string
	if !c.anyReached() {
		return nil
	}
	gets := func(n Notice) bool {
		return slices.ContainsFunc(c.People, func(p Person) bool {
			return (c.Reached(p.Address) || c.Reached(p.Second)) && slices.Contains(p.What, n)
		})
	}
	for _, one := range []struct {
		notice Notice
		lost   string
	}{
		{NoticeCall, "the evening call"},
		{NoticeAlert, "official warnings as they come, and a call that turns"},
		{NoticeTrouble, "an evening without a call, or warnings that can't be read"},
		{NoticeDraft, "messages to guests that wait for a word"},
	} {
		if !gets(one.notice) {
			list = append(list, fmt.Sprintf("nobody hears of %s: add %q to what of the captain, under people", one.lost, string(one.notice)))
		}
	}
	return list
}

// Frail tells, a line each, what rests on one thing alone: it works until that
// fails.
func (c *Config) Frail() []string {
	var list []string
	if !c.anyReached() {
		return nil
	}
	captain := slices.IndexFunc(c.People, func(p Person) bool { return p.Role == Captain })
	if captain < 0 {
		list = append(list, "nobody is the captain: who has the role is told what can't wait, whatever else he gets")
	}
	for _, p := range c.People {
		if p.Role == Captain && !(c.Reached(p.Address) && c.Reached(p.Second)) {
			list = append(list, fmt.Sprintf("%s has one way only: where it is refused, others are asked to pass it on; name another under second", p.Name))
		}
	}
	if len(c.Charters.Bookings) > 0 && !slices.ContainsFunc(c.People, func(p Person) bool { return slices.Contains(p.What, NoticeFloatPlan) }) {
		list = append(list, `nobody ashore is told when the boat is overdue: add "float plan" to what of somebody ashore`)
	}
	if c.Daemon.Heartbeat == "" {
		list = append(list, "nobody notices when this computer is dead: give an outside watcher's address as daemon.heartbeat")
	}
	return list
}
