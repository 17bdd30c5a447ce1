package notify

import "forecastd/internal/words"

// phrase finds a phrase in the reader's language; one that is missing there
// is told in English, and an unknown key is empty.
func phrase(l words.Language, key string) string {
	if l == words.Spanish {
		if s, ok := inSpanish()[key]; ok {
			return s
		}
	}
	return inEnglish()[key]
}

func inEnglish() map[string]string {
	return map[string]string{
		"subject.changed":          "Changed:",
		"subject.escalated":        "WORSE:",
		"subject.reminder":         "Still so:",
		"subject.warnings_unknown": "WARNINGS UNKNOWN",

		"cautions":         "Cautions",
		"caution.official": "official warnings rule: listen to the weather radio before you go and under way",
		"caution.captain":  "the decision is the licensed captain's",
		"official.unknown": "Official warnings: UNKNOWN. The feed could not be read: listen to the official broadcast (weather radio, VHF).",
		"further_notice":   "further notice",
		"from_to":          "{0} to {1}",
		"issued":           "issued {0}",

		"changed.head":     "What changed",
		"morning.head":     "What changed since last night",
		"morning.nothing":  "nothing is known to have changed since last night",
		"morning.subject":  "Morning:",
		"stations.head":    "Upwind now, against what the call expected",
		"stations.line":    "{0}, {1} ago:",
		"stations.said":    "said {0}",
		"stations.ahead":   "about {0} AHEAD of the call:",
		"stations.behind":  "about {0} BEHIND the call:",
		"stations.same":    "as said:",
		"stations.silent":  "{0}: no report of the last two hours",
		"stations.none":    "no station upwind is configured: look at one before you go",
		"front.moved":      "The front is to be expected about {0}; it was said for {1}.",
		"front.new":        "A front is now expected about {0}; last night none was said.",
		"front.gone":       "The forecast no longer shows the front that was said for {0}.",
		"front.same":       "The front is still expected about {0}.",
		"what.wind":        "wind",
		"what.gust":        "gust",
		"what.sea":         "sea",
		"what.pressure":    "pressure",
		"pressure.rising":  "rising, {0} hPa in 3 h",
		"pressure.falling": "falling, {0} hPa in 3 h",
		"pressure.steady":  "steady over 3 h",

		"verdict.as said":        "as said",
		"verdict.ahead":          "ahead",
		"verdict.behind":         "behind",
		"verdict.more":           "more",
		"verdict.less":           "less",
		"verdict.from elsewhere": "from elsewhere",
		"verdict.not said":       "not said",

		"warning.issued":    "{0} issued",
		"warning.extended":  "{0} extended",
		"warning.shortened": "{0} ends earlier",
		"warning.updated":   "{0} updated",
		"warning.cancelled": "{0} cancelled",
		"warning.before":    "It was {0} before.",

		"draft.head":       "For {0}, {1}: send this?",
		"draft.subject":    "Send to {0}? {1}: {2}",
		"draft.tell_by":    "Tell them by {0}.",
		"draft.tell_now":   "The hour to tell them by is past ({0}): tell them now.",
		"draft.no_contact": "No address of theirs is known: tell them yourself.",
		"draft.approve":    "Look at it and approve (good once)",
		"draft.by_command": "Approve with the command approve. Nothing goes out before you do.",
		"guests.subject":   "Your trip on {0} with {1}",
		"guests.event":     "Charter with {0}",
		"guests.short_in":  "We stay in on {0}.",
		"guests.short_out": "{0}: we leave at {1}, back by {2}.",

		"trouble.subject": "Trouble with the forecast service: {0}",
		"trouble.over":    "Over: {0}",
		"trouble.since":   "Since {0}.",
		"trouble.error":   "{0}",

		"trouble.source":        "no data from {0}",
		"trouble.source_cure":   "calls go on without it and say so; if it lasts, see whether the connection stands: forecastd check -live",
		"trouble.warnings":      "official warnings can't be read",
		"trouble.warnings_cure": "listen to the official broadcast (weather radio, VHF)",
		"trouble.clock":         "the clock of this machine is behind",
		"trouble.clock_detail":  "a document was issued {0} ahead of it",
		"trouble.clock_cure":    "set the clock and let it be kept (NTP): ages and hours are judged by it",
		"trouble.disk":          "the disk is filling",
		"trouble.disk_detail":   "{0} MB are free where the store is",
		"trouble.disk_cure":     "free some space, or lower daemon.keep",
		"trouble.no_call":       "no call could be made",
		"trouble.no_call_cure":  "it is tried again; until then judge by the official forecast and your own eyes",

		"plan.subject":        "Float plan: {0} leaves {1}, back inside {2}",
		"plan.boat":           "boat: {0}, {1}, {2}",
		"plan.times":          "from {0}: leaves {1}, back inside {2}",
		"plan.ground":         "goes to {0} ({1})",
		"plan.aboard":         "aboard: {0}",
		"plan.aboard_unknown": "aboard: nobody has said how many",
		"plan.worry":          "If you have not heard from them by {0}, call the boat; no answer: call the coast guard, VHF channel 16 or the emergency number. Do not wait for this service.",
		"plan.check_in":       "They are back: check in (good once)",
		"overdue.subject":     "OVERDUE: {0} was to be back inside at {1} and has not checked in",
		"overdue.do":          "Call the boat, by VHF and by phone. No answer: call the coast guard now, VHF channel 16 or the emergency number, and read them what stands below.",
		"overdue.back":        "Back: {0} has checked in",

		"test.subject": "Test message",
		"test.text":    "This is a test for {0}. If you read it, messages reach you this way.",
	}
}
