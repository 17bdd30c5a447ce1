package config

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const withMail = small + "mail: {host: mail.example.com, from: boat@example.com}\n"

// What a person gets follows from the role, so that an evening without a call
// is heard of by whoever only wrote down who he is.
func TestWhatPeopleGetByDefault(t *testing.T) {
	for role, want := range map[string][]Notice{
		"captain":       {NoticeCall, NoticeMorning, NoticeAlert, NoticeDraft, NoticeTrouble},
		"mate":          {NoticeCall, NoticeMorning, NoticeAlert},
		"owner":         {NoticeCall, NoticeMorning, NoticeAlert},
		"shore contact": {NoticeFloatPlan},
	} {
		c := loadText(t, small+"people: [{name: somebody, role: "+role+", address: a@example.com}]\n")
		require.Equal(t, want, c.People[0].What, role)
	}
}

func TestWhatNobodyHearsIsTold(t *testing.T) {
	for _, one := range []struct{ people, unheard, frail string }{
		{"{name: A, role: captain, address: a@example.com}", "", "A has one way only"},
		{"{name: A, role: captain, address: a@example.com, second: b@example.com}", "", "when this computer is dead"},
		{"{name: A, role: captain, address: a@example.com, what: [evening call, alerts, drafts]}", "an evening without a call", ""},
		{"{name: A, role: captain, address: a@example.com, what: [trouble]}", "official warnings", ""},
		{"{name: A, role: owner, address: a@example.com}", "messages to guests", "nobody is the captain"},
		{`{name: A, role: captain, address: "https://example.com/x"}`, "", ""}, // no way to anybody: nothing is sent at all
	} {
		c := loadText(t, withMail+"people: ["+one.people+"]\n")
		unheard := strings.Join(c.Unheard(), "\n")
		if one.unheard == "" {
			require.Empty(t, unheard, one.people)
		}
		require.Contains(t, unheard, one.unheard, one.people)
		require.Contains(t, strings.Join(c.Frail(), "\n"), one.frail, one.people)
	}
	c := loadText(t, withMail+"people: [{name: A, role: captain, address: a@example.com}]\ndaemon: {heartbeat: https://watch.example.com/1}\n")
	require.NotContains(t, strings.Join(c.Frail(), "\n"), "dead")
}
