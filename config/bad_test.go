package config

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Each file holds one mistake, but for bad-many.yaml.
func TestBadFilesAreToldExactly(t *testing.T) {
	files, err := filepath.Glob("testdata/bad-*.yaml")
	require.NoError(t, err)
	want := badFiles()
	for _, f := range files {
		name := strings.TrimSuffix(strings.TrimPrefix(filepath.Base(f), "bad-"), ".yaml")
		t.Run(name, func(t *testing.T) {
			message, ok := want[name]
			require.True(t, ok, "%s has no expectation", f)
			b, err := os.ReadFile(f)
			require.NoError(t, err)
			c, err := Load("forecastd.yaml", b)
			require.Nil(t, c)
			require.EqualError(t, err, strings.TrimSpace(message))
			p, ok := errors.AsType[*Problem](err)
			require.True(t, ok)
			require.Equal(t, "forecastd.yaml", p.File)
		})
		delete(want, name)
	}
	require.Empty(t, want, "expectations without a file")
}

// badFiles are the messages by file: where, which key, what is wrong, and
// what to write instead.
func badFiles() map[string]string {
	return map[string]string{
		"mail-in-the-clear":        `forecastd.yaml:10:44: mail.encryption: messages would go to mail.example.com in the clear: write starttls or tls`,
		"mail-from":                `forecastd.yaml:10:38: mail.from: "the boat" is no address to write from: write one, as Second Light <boat@example.com>`,
		"mail-password":            `forecastd.yaml:10:56: mail.password: unknown key: known here: host, port, encryption, from, user, password_file`,
		"mail-password-for-nobody": `forecastd.yaml:10:71: mail.password_file: is for nobody: write user, too`,
		"daemon-listen":            `forecastd.yaml:10:18: daemon.listen: "dockside" is no address to listen on: write one, as 127.0.0.1:8416`,
		"daemon-period":            `forecastd.yaml:10:25: daemon.collect_every: "7 min" does not divide a day: write for example 10 min, 30 min, 1 h or 3 h`,
		"daemon-same-clock":        `forecastd.yaml:10:37: daemon.morning: is the same as evening: write another time`,
		"daemon-size":              `forecastd.yaml:10:23: daemon.keep.size: "1 MB" can't be right: write 50 MB to 1000000 MB`,
		"pages-in-the-clear":       `forecastd.yaml:10:18: pages.address: "http://boat.example.com" would carry the passphrase in the clear: write https://boat.example.com, with a proxy that keeps the certificate`,
		"pages-path":               `forecastd.yaml:10:18: pages.address: "https://boat.example.com/call" has more than a host: write https://boat.example.com`,
		"pages-proxy":              `forecastd.yaml:10:27: pages.trusted_proxies[0]: "the proxy" is no network: write one, as 172.18.0.0/16 or 192.168.1.5`,
		"pages-proxy-wide":         `forecastd.yaml:10:27: pages.trusted_proxies[0]: "0.0.0.0/0" is half the world: write the network of your own server alone, as 172.18.0.0/16`,
		"person-webhook":           `forecastd.yaml:10:41: people[0].address: is no https address: write one, as https://example.com/messages`,
		"anchor":                   `forecastd.yaml:19:11: boat.length: holds an anchor, alias or tag, which are not read here: write a length, as 3 ft (15 ft to 120 ft)`,
		"bare-number":              `forecastd.yaml:10:16: ports[0].grounds[0].depth: "150" has no unit: write 150 ft`,
		"blank-optional":           `forecastd.yaml:22:3: boat.cruise: is blank: fill in a speed, as 12 kn (3 kn to 70 kn), or take the line out`,
		"blank-required":           `forecastd.yaml:10:9: ports[0].grounds[0].depth: is blank: fill in a length, as 3 ft (3 ft to 12000 ft)`,
		"boat-kind":                `forecastd.yaml:18:9: boat.kind: "centre console" is not a kind of boat: did you mean center console`,
		"booking-date":             `forecastd.yaml:26:27: charters.bookings[0].date: "2027-02-30" is no date: write it as 2027-01-19`,
		"booking-ground":           `forecastd.yaml:26:47: charters.bookings[0].ground: "South Ledge" is not a ground of Port Amparo: write the Shelf edge`,
		"booking-overlap":          `forecastd.yaml:27:25: charters.bookings[1].date: is taken: one has the boat from 07:00 to 15:00`,
		"booking-port":             `forecastd.yaml:26:45: charters.bookings[0].port: "Port Amaro" is not a port of this file: did you mean Port Amparo`,
		"bookings-csv":             `forecastd.yaml:25:17: charters.bookings_csv: does not end in .csv: write a table of bookings, as bookings.csv`,
		"bookings-open-address":    `forecastd.yaml:25:22: charters.bookings_calendar: is an open address, which anyone on the way can read and change: write https://`,
		"contact-missing":          `forecastd.yaml:22:1: sources.contact: is missing: write an e-mail address, as captain@example.com`,
		"contact":                  `forecastd.yaml:23:12: sources.contact: "the captain" is no e-mail address: write one, as captain@example.com`,
		"crew-zero":                `forecastd.yaml:21:9: boat.crew: "0" can't be right: write 1 to 12`,
		"current-bin":              `forecastd.yaml:12:44: ports[0].inlet_current.bin: "0" can't be right: write 1 to 128`,
		"depth-band-order":         `forecastd.yaml:12:45: ports[0].grounds[0].depth_band.deep: must be deeper than shallow, 250 ft`,
		"depth-outside-band":       `forecastd.yaml:10:16: ports[0].grounds[0].depth: must lie in the depth band, 200 ft to 300 ft`,
		"duplicate-booking":        `forecastd.yaml:27:14: charters.bookings[1].name: "one" is used twice: give each its own`,
		"duplicate-ground":         `forecastd.yaml:12:16: ports[0].grounds[1].name: "the Shelf edge" is used twice: give each its own`,
		"duplicate-key":            `forecastd.yaml:22:3: boat.length: is given twice, first in line 19: keep one`,
		"duplicate-kite":           `forecastd.yaml:28:11: kites[1].name: "light" is used twice: give each its own`,
		"duplicate-zone":           `forecastd.yaml:14:14: ports[0].zones[1].id: "AMZ997" is used twice: give each its own`,
		"empty":                    "forecastd.yaml:1:1: is empty: `forecastd setup -at LAT,LON` writes a first one",
		"exponent":                 `forecastd.yaml:22:11: boat.cruise: "1e2 kn" is not a speed: its unit must be kn, m/s, km/h or mph`,
		"gear-kind":                `forecastd.yaml:25:12: gear[0].kind: "kites" is not a kind of gear: did you mean kite`,
		"gridpoint-fraction":       `forecastd.yaml:12:37: ports[0].grounds[0].gridpoint.x: "60.5" is not a whole number: write it as 1`,
		"gridpoint-office":         `forecastd.yaml:12:29: ports[0].grounds[0].gridpoint.office: "KXAM" is not an office: write three letters, as XAM`,
		"ground-far":               `forecastd.yaml:9:13: ports[0].grounds[0].at: lies 7338 nmi from the port, more than a day's fishing: check both positions, and E or W`,
		"indent":                   `forecastd.yaml:17:9: is not well-formed YAML: mapping value is not allowed in this context: check indentation, colons and brackets here and in the line before`,
		"kite-half-range":          `forecastd.yaml:25:11: kites[0].name: has one end of a wind range only: write both min and max`,
		"kite-nothing":             `forecastd.yaml:25:11: kites[0].name: says neither how large nor for what wind: write min and max, or area and mass`,
		"kite-order":               `forecastd.yaml:27:10: kites[0].max: must be above min, 20 kn`,
		"language":                 `forecastd.yaml:24:11: language: "fr" is not a language: write en, es or pt`,
		"latitude":                 `forecastd.yaml:4:9: ports[0].at: latitude "95 N" lies off the globe, past 90 degrees: write latitude and longitude, as 27.2000 N, 79.8300 W`,
		"limits-against-default":   `forecastd.yaml:25:24: limits.helium.need_under: must not be over suggest_under, 8 kn by default`,
		"limits-margin":            `forecastd.yaml:25:27: limits.back_inside.official: "-90 min" can't be right: write 0 min to 12 h`,
		"limits-never-under-own":   `forecastd.yaml:25:15: limits.own.wind: must not be over limits.never.wind, 25 kn by default`,
		"limits-ramp":              `forecastd.yaml:25:39: limits.kite_wind.full_from: must not be under from, 10 kn`,
		"limits-ratio-with-unit":   `forecastd.yaml:25:24: limits.opposition.useful: "60 %" is not a plain number: write it without unit, as 0.6`,
		"limits-ride-part":         `forecastd.yaml:25:3: limits.ride.talk_from: is missing: write a length, as 3 ft (0.5 ft to 60 ft)`,
		"limits-share":             `forecastd.yaml:25:19: limits.thunder.stop: "40" has no unit: write 40 %`,
		"lines-order":              `forecastd.yaml:26:69: charters.bookings[0].lines_out: must come after lines_in, 15:00`,
		"list-for-value":           `forecastd.yaml:19:11: boat.length: must be one value: write a length, as 3 ft (15 ft to 120 ft)`,
		"longitude":                `forecastd.yaml:4:9: ports[0].at: longitude "279.9000 W" lies off the globe, past 180 degrees: write latitude and longitude, as 27.2000 N, 79.8300 W`,
		"constants-no-axes":        `forecastd.yaml:20:9: ports[0].inlet_current.constants: need the bearings that flood and ebb run to: write flood and ebb`,
		"offsets-of-nothing":       `forecastd.yaml:19:16: ports[0].inlet_current.offsets: apply to the constants of the reference station, and none are given: write constants, from the page of the reference station`,
		"constituent":              `forecastd.yaml:19:18: ports[0].tide.constants[0].name: "M9" is not a tidal constituent: did you mean M2`,
		"many": `
forecastd.yaml:5:11: ports[0].zone: "America/New_Yrok" is no IANA time zone: did you mean America/New_York
forecastd.yaml:10:16: ports[0].grounds[0].depth: "150" has no unit: write 150 ft
forecastd.yaml:13:14: ports[0].zones[0].id: "AM997" is not a zone code: write two letters, Z or C, three digits, as AMZ997
forecastd.yaml:21:3: boat.crw: unknown key: did you mean crew
`,
		"max-age":                `forecastd.yaml:23:19: sources.ndbc.max_age: "3" has no unit: write 3 min`,
		"merge-key":              `forecastd.yaml:17:3: boat.<<: merge keys are not read here: write the keys out`,
		"missing-boat":           `forecastd.yaml:1:1: boat: is missing: write the boat's own keys below it`,
		"missing-key":            `forecastd.yaml:3:5: ports[0].zone: is missing: write an IANA time zone, as America/New_York`,
		"missing-ports":          `forecastd.yaml:1:1: ports: is missing: write at least one port, behind a dash`,
		"model-point-far":        `forecastd.yaml:12:48: ports[0].grounds[0].model_points[0].at: lies 535 nmi from the ground: check both positions, and E or W`,
		"model-point-product":    `forecastd.yaml:12:34: ports[0].grounds[0].model_points[0].product: "gfs-waves" is not a gridded product: did you mean gfs-wave`,
		"no-ground":              `forecastd.yaml:7:14: ports[0].grounds: is empty: write at least one ground, behind a dash`,
		"no-number":              `forecastd.yaml:10:16: ports[0].grounds[0].depth: "deep" is not a length: write it as 3 ft`,
		"not-a-table":            "forecastd.yaml:1:1: must be a list of keys at the top, as `boat:` and `ports:`",
		"out-of-range":           `forecastd.yaml:19:11: boat.length: "390 ft" can't be right: write 15 ft to 120 ft`,
		"pen-date":               `forecastd.yaml:25:56: pens[0].counted: "1/16/2027" is no date: write it as 2027-01-19`,
		"person-address":         `forecastd.yaml:25:38: people[0].address: "ana at example" is no e-mail address: write one, as captain@example.com`,
		"person-quiet-all-day":   `forecastd.yaml:25:82: people[0].quiet.to: is the same as from, quiet all day: write another time`,
		"person-what":            `forecastd.yaml:25:62: people[0].what[0]: "evening cal" is not a sort of message: did you mean evening call`,
		"position-half":          `forecastd.yaml:4:9: ports[0].at: "27.2000 N" is no position: write latitude and longitude, as 27.2000 N, 79.8300 W`,
		"position-minutes":       `forecastd.yaml:4:9: ports[0].at: "27 72.000 N" has 72.000 minutes, and 60 make a degree: write latitude and longitude, as 27.2000 N, 79.8300 W`,
		"position-sign-and-side": `forecastd.yaml:4:9: ports[0].at: "-79.9000 W" has both a sign and a hemisphere: write latitude and longitude, as 27.2000 N, 79.8300 W`,
		"position-swapped":       `forecastd.yaml:4:9: ports[0].at: "79.9000 W" is no latitude: it ends in N or S: write latitude and longitude, as 27.2000 N, 79.8300 W`,
		"product":                `forecastd.yaml:23:24: sources.gridded.products[0]: "gfs-vawe" is not a gridded product: did you mean gfs-wave`,
		"products-empty":         `forecastd.yaml:23:23: sources.gridded.products: is empty: write a list, each a gridded product: gfs, gfs-wave, hrrr, nbm, nwps, rtofs, ecmwf or ecmwf-wave`,
		"season-month":           `forecastd.yaml:25:3: season.jan: unknown key: known here: january, february, march, april, may, june, july, august, september, october, november, december`,
		"limits-grades":          `forecastd.yaml:25:18: limits.grades.fair: must not be over good, 0.68 by default`,
		"usual-trip-lines":       `forecastd.yaml:25:16: charters.usual_trip.lines_in: unknown key: known here: kind, party, start, end, for_hire, guests`,
		"lines-outside-trip":     `forecastd.yaml:26:49: charters.bookings[0].lines_in: must come before the trip ends, 15:00`,
		"season":                 `forecastd.yaml:25:12: season.january: "best" is not a season: write peak, spring run, good, tail end or off`,
		"shore-normal-over":      `forecastd.yaml:6:19: ports[0].shore_normal: "390 deg" can't be right: write 0 deg to 360 deg`,
		"shore-normal":           `forecastd.yaml:6:19: ports[0].shore_normal: "east" is not a true bearing: write it as 90 deg`,
		"station-height-missing": `forecastd.yaml:15:9: ports[0].stations[0].anemometer: is missing: a station used for wind needs the height of its anemometer, as 5 m`,
		"station-height-zero":    `forecastd.yaml:15:46: ports[0].stations[0].anemometer: "0 m" can't be right: write 3 ft to 500 ft`,
		"station-id":             `forecastd.yaml:15:14: ports[0].stations[0].id: "XAM-P1" is not a station: write its five letters or digits, as XAMP1 or 49997`,
		"station-no-use":         `forecastd.yaml:15:9: ports[0].stations[0].for: is missing: write a list, each a use of a station: wind, sea or upwind`,
		"station-use-twice":      `forecastd.yaml:15:33: ports[0].stations[0].for[1]: wind is listed twice: keep one`,
		"syntax":                 `forecastd.yaml:17:9: is not well-formed YAML: could not find end character of double-quoted text: check indentation, colons and brackets here and in the line before`,
		"tab":                    `forecastd.yaml:18:1: is not well-formed YAML: a tab stands where a line is indented: indent with spaces`,
		"table-for-list":         `forecastd.yaml:15:7: ports[0].stations: must be a list: put a dash before each entry`,
		"text-two-lines":         `forecastd.yaml:17:9: boat.name: "Second\nLight" holds a line break, a control character or one that is not seen: write it in one line`,
		"tide-station":           `forecastd.yaml:12:21: ports[0].tide.station: "87990" is not a tide station: write its seven digits, as 8799001`,
		"trip-clock":             `forecastd.yaml:25:23: charters.usual_trip.start: "7am" is no time of day: write it as 07:30`,
		"trip-order":             `forecastd.yaml:25:37: charters.usual_trip.end: the trip from 15:00 to 07:00 does not end after it starts: a trip lies within one day`,
		"two-documents":          `forecastd.yaml:26:1: holds a second document after ---: keep one`,
		"ugc-lower-case":         `forecastd.yaml:13:14: ports[0].zones[0].id: "amz997" must be in capitals: write AMZ997`,
		"ugc":                    `forecastd.yaml:13:14: ports[0].zones[0].id: "AM997" is not a zone code: write two letters, Z or C, three digits, as AMZ997`,
		"units":                  `forecastd.yaml:24:8: units: "imperial" is not a system of units: write nautical or metric`,
		"unknown-key-far":        `forecastd.yaml:24:1: colour: unknown key: known here: units, language, ports, boat, kites, gear, pens, limits, season, charters, people, sources, mail, webhook, daemon, pages`,
		"unknown-key":            `forecastd.yaml:10:9: ports[0].grounds[0].dpeth: unknown key: did you mean depth`,
		"value-for-list":         `forecastd.yaml:15:26: ports[0].stations[0].for: must be a list: write [a, b], or one entry a line behind a dash`,
		"value-for-table":        `forecastd.yaml:16:7: boat: must hold keys, one a line, indented below it`,
		"wrong-unit-case":        `forecastd.yaml:22:11: boat.cruise: "28 KN" is not a speed: its unit must be kn, m/s, km/h or mph`,
		"wrong-unit":             `forecastd.yaml:10:16: ports[0].grounds[0].depth: "150 kn" is not a length: its unit must be ft, m, in or yd`,
		"yes-or-no":              `forecastd.yaml:22:11: boat.helium: "maybe" is neither yes nor no: write one of them`,
		"zone-abbreviation":      `forecastd.yaml:5:11: ports[0].zone: "EST" is no IANA time zone of a place: write one, as America/New_York`,
		"zone-shown-grounds":     `forecastd.yaml:13:43: ports[0].zones[0].grounds: has no meaning for a zone that is only shown: take the line out, or write for: trip`,
		"zone-unknown-ground":    `forecastd.yaml:13:43: ports[0].zones[0].grounds[0]: "the Shelf egde" is not a ground of Port Amparo: did you mean the Shelf edge`,
		"zone-use":               `forecastd.yaml:13:27: ports[0].zones[0].for: "trips" is not a use of a zone: did you mean trip`,
		"zone":                   `forecastd.yaml:5:11: ports[0].zone: "America/New_Yrok" is no IANA time zone: did you mean America/New_York`,
	}
}
