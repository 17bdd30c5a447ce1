package scoring_test

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"forecastd/internal/models"
	"forecastd/internal/models/units"
)

// block is what holds from an hour of the day until the next block.
type block struct {
	hour                int
	wind, from, gust    float64 // kn, degrees, kn
	sea, period         float64 // ft, s
	cloud, rain, thunds float64 // percent
}

// inventedDay is a day of ours with the verdict that an expert captain would
// sign: common practice, no source, except where the gate of design.md 6 or a
// limit of trade.md 8.2 gives it.
type inventedDay struct {
	name   string
	blocks []block
	change func(o *models.Outlook)
	// tactics are the words that an expert could say, the first one rather.
	tactics     []models.Tactic
	leave, back string // "" when staying in; within half an hour
	actions     []models.CharterAction
	not         []models.CharterAction
	reasons     []string // keys that the three reasons hold
	noReasons   []string // and keys that they do not
	cautions    []string // keys that the cautions hold
	draft       []string // keys that the guests' draft holds
	also        func(t *testing.T, c models.Call)
}

// stock is a day that an invented one starts from: a 39 ft centre console off
// Port A, mixed party, 07:00 to 15:00, in season, flood in the inlet all day.
func stock(t testing.TB, date models.Date, blocks []block) models.Outlook {
	zone := newYork(t)
	start := date.Start(zone)
	o := models.Outlook{
		Made: start.Add(-7 * time.Hour), Date: date,
		Port:   models.Port{Name: "Port A", At: models.Position{Lat: 25.8, Lon: -80.1}, Zone: zone, ShoreNormal: 90},
		Ground: models.Ground{Name: "the edge", At: models.Position{Lat: 25.8, Lon: -80.06}, Depth: 150 * ft, Run: 20 * time.Minute},
		Boat:   models.Boat{Kind: models.CenterConsole, Length: 39 * ft, Tower: 20 * ft, HeliumAboard: true, Crew: 3},
		Trip: models.Trip{
			Kind: models.Charter, Party: models.Mixed, ForHire: models.Known(true),
			Start: models.Clock{Hour: 7}, End: models.Clock{Hour: 15},
		},
		Reports: models.Reports{
			EdgeInReach: models.Known(true), EdgeDepth: models.Known(150 * ft), Water: models.Known(models.WaterBlueEdge),
			BaitShowering: models.Known(false), Season: models.Known(models.SeasonPeak),
		},
		Warnings: models.Known([]models.Warning{}),
	}
	for hour := 4; hour <= 21; hour++ {
		b := blocks[0]
		for _, x := range blocks {
			if x.hour <= hour {
				b = x
			}
		}
		o.Middle.Hours = append(o.Middle.Hours, models.Hour{
			At:   (models.Clock{Hour: hour}).On(date, zone),
			Wind: models.Known(units.Speed(b.wind) * kn), WindFrom: models.Known(units.From(b.from)), Gust: models.Known(units.Speed(b.gust) * kn),
			DirectionSpread: models.Known(20.0),
			Sea:             models.Known(units.Length(b.sea) * ft), Period: models.Known(b.period), SeaIncludesCurrent: models.Known(true),
			InletCurrent: models.Known(0.5 * kn), Current: models.Known(1.5 * kn), CurrentToward: models.Known(units.Toward(0)),
			Cloud: models.Known(b.cloud), Rain: models.Known(b.rain), Thunder: models.Known(b.thunds),
			Visibility: models.Known(10 * units.NauticalMile),
			Air:        models.Known(units.Fahrenheit(70)), Water: models.Known(units.Fahrenheit(75)),
		})
	}
	return o
}

// product is an official product from one time of day to another; the end may
// be past midnight.
func product(o *models.Outlook, event, vtec, from string, lasts time.Duration) {
	list, _ := o.Warnings.Get()
	on := onset(*o, from)
	o.Warnings = models.Known(append(slices.Clone(list), models.Warning{Event: event, VTEC: vtec, Onset: on, Ends: models.Known(on.Add(lasts))}))
}

func hoursOf(o *models.Outlook, from, to int, f func(h *models.Hour)) {
	for i := range o.Middle.Hours {
		if hour := o.Middle.Hours[i].At.In(o.Port.Zone).Hour(); hour >= from && hour < to {
			f(&o.Middle.Hours[i])
		}
	}
}

func booked(o *models.Outlook, start, end string) {
	o.Trip.Start, _ = models.ParseClock(start)
	o.Trip.End, _ = models.ParseClock(end)
}

// portB looks south: an island chain with a current that sets east.
func portB(o *models.Outlook) {
	o.Port = models.Port{Name: "Port B", At: models.Position{Lat: 24.6, Lon: -81.4}, Zone: o.Port.Zone, ShoreNormal: 180}
	o.Ground.At = models.Position{Lat: 24.5, Lon: -81.4}
	hoursOf(o, 0, 24, func(h *models.Hour) { h.CurrentToward = models.Known(units.Toward(90)) })
}

func event(forHire bool) func(o *models.Outlook) {
	return func(o *models.Outlook) {
		o.Trip.Kind, o.Trip.ForHire, o.Trip.Party = models.Tournament, models.Known(forHire), models.Experienced
		booked(o, "06:30", "17:00")
		o.Trip.LinesIn, o.Trip.LinesOut = models.Known(models.Clock{Hour: 8}), models.Known(models.Clock{Hour: 16})
	}
}

func fairWind() []block { return []block{{0, 14, 60, 18, 2.5, 6, 30, 10, 0}} }

func bluebird() []block { return []block{{0, 3, 120, 4, 1, 5, 5, 0, 0}} }

func inventedDays() []inventedDay {
	kite, helium, sight, stay := models.TacticKite, models.TacticHelium, models.TacticSight, models.TacticStayIn
	one := func(t ...models.Tactic) []models.Tactic { return t }
	return []inventedDay{
		{
			name: "gale warning all day over a fair-looking morning", blocks: []block{{0, 16, 340, 20, 3, 6, 40, 10, 0}},
			change: func(o *models.Outlook) {
				product(o, "Gale Warning", "/O.NEW.KMFL.GL.W.0003.270119T1000Z-270120T1100Z/", "05:00", 25*time.Hour)
			},
			tactics: one(stay), actions: []models.CharterAction{models.CharterCancel, models.CharterMove},
			reasons: []string{"closed.product"}, draft: []string{"guests.stay_in", "guests.product_times"},
		},
		{
			name: "gale warning from the middle of the trip", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Gale Warning", "", "13:00", 24*time.Hour) },
			tactics: one(stay), actions: []models.CharterAction{models.CharterCancel, models.CharterMove}, draft: []string{"guests.product_times"},
		},
		{
			name: "gale warning from the night after", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Gale Warning", "", "21:00", 24*time.Hour) },
			tactics: one(kite), leave: "07:00", back: "15:00", draft: []string{"guests.product_times"},
		},
		{
			name: "special marine warning by code inside the trip", blocks: fairWind(),
			change: func(o *models.Outlook) {
				product(o, "", "/O.NEW.KMFL.MA.W.0041.270119T1500Z-270119T1630Z/", "10:00", 90*time.Minute)
			},
			tactics: one(stay), actions: []models.CharterAction{models.CharterMove}, reasons: []string{"closed.product"}, draft: []string{"guests.why.product"},
			also: func(t *testing.T, c models.Call) {
				list, _ := c.Warnings.Get()
				require.Equal(t, "Special Marine Warning", list[0].Event, "named by its code")
			},
		},
		{
			name: "special marine warning in the afternoon", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Special Marine Warning", "", "14:00", time.Hour) },
			tactics: one(kite), leave: "06:30", back: "12:30", actions: []models.CharterAction{models.CharterShorten},
		},
		{
			name: "special marine warning that ends as the boat would leave", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Special Marine Warning", "", "06:30", time.Hour) },
			tactics: one(kite), leave: "08:00", back: "16:00", actions: []models.CharterAction{models.CharterStartLater},
		},
		{
			name: "hazardous seas watch tomorrow afternoon", blocks: []block{{0, 12, 80, 15, 3, 8, 30, 10, 0}},
			change: func(o *models.Outlook) {
				product(o, "Hazardous Seas Watch", "/O.NEW.KMFL.SE.A.0002.270119T1900Z-270120T1100Z/", "14:00", 18*time.Hour)
			},
			tactics: one(kite), leave: "06:30", back: "12:30", actions: []models.CharterAction{models.CharterShorten}, reasons: []string{"reason.back_before"},
		},
		{
			name: "small craft advisory ends at nine, the sea is down by then", blocks: []block{{0, 19, 20, 24, 4.5, 6, 30, 10, 0}, {8, 14, 30, 18, 3.5, 6, 30, 10, 0}},
			change:  func(o *models.Outlook) { product(o, "Small Craft Advisory", "", "00:00", 9*time.Hour) },
			tactics: one(kite, models.TacticEither, models.TacticKiteSight), leave: "09:00", back: "17:00", actions: []models.CharterAction{models.CharterStartLater}, reasons: []string{"reason.not_before"},
			draft: []string{"guests.product_times"},
		},
		{
			name: "small craft advisory ends at noon", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Small Craft Advisory", "", "00:00", 12*time.Hour) },
			tactics: one(stay), actions: []models.CharterAction{models.CharterMove}, reasons: []string{"closed.product"},
		},
		{
			name: "small craft advisory from two hours after the booked end", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Small Craft Advisory", "", "17:00", 12*time.Hour) },
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterGo},
		},
		{
			name: "small craft advisory from an hour after the booked end", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Small Craft Advisory", "", "16:00", 12*time.Hour) },
			tactics: one(kite), back: "14:30", leave: "06:45", reasons: []string{"reason.back_before"},
		},
		{
			name: "small craft advisory overridden with a reason", blocks: fairWind(),
			change: func(o *models.Outlook) {
				product(o, "Small Craft Advisory", "", "05:00", 24*time.Hour)
				o.Overrides = []models.Override{{What: "small craft advisory", Why: "the advisory is for the outer zone, we fish in the lee"}}
			},
			tactics: one(kite), leave: "07:00", back: "15:00", cautions: []string{"caution.overridden"}, draft: []string{"guests.product_times", "guests.single_waves"},
		},
		{
			name: "small craft advisory overridden without a reason", blocks: fairWind(),
			change: func(o *models.Outlook) {
				product(o, "Small Craft Advisory", "", "05:00", 24*time.Hour)
				o.Overrides = []models.Override{{What: "small craft advisory"}}
			},
			tactics: one(stay), cautions: []string{"caution.override_no_reason"},
		},
		{
			name: "gale warning is not the captain's to lift", blocks: fairWind(),
			change: func(o *models.Outlook) {
				product(o, "Gale Warning", "", "05:00", 24*time.Hour)
				o.Overrides = []models.Override{{What: "gale warning", Why: "looks fine"}}
			},
			tactics: one(stay), cautions: []string{"caution.override_not_understood"},
		},
		{
			name: "charter without passengers for hire under an advisory", blocks: fairWind(),
			change: func(o *models.Outlook) {
				product(o, "Small Craft Advisory", "", "05:00", 24*time.Hour)
				o.Trip.ForHire = models.Known(false)
			},
			tactics: one(stay),
		},
		{
			name: "bluebird day with helium", blocks: bluebird(), noReasons: []string{"reason.not_kite.wind"},
			tactics: one(helium, sight), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterGo}, draft: []string{"guests.slow"}, not: []models.CharterAction{models.CharterRoughNote},
			cautions: []string{"caution.helium"},
		},
		{
			name: "bluebird day without helium", blocks: bluebird(),
			change:  func(o *models.Outlook) { o.Boat.HeliumAboard = false },
			tactics: one(sight, stay), leave: "07:00", back: "15:00",
			also: func(t *testing.T, c models.Call) { require.Equal(t, models.GradeNo, hourAt(t, c, 10).Kite) },
		},
		{
			name: "tournament in 26 kn, nothing official", blocks: []block{{0, 26, 20, 31, 6, 6, 40, 10, 0}}, change: event(false),
			tactics: one(kite), leave: "06:30", back: "17:00", reasons: []string{"reason.captain_decides"}, cautions: []string{"caution.event"},
			also: func(t *testing.T, c models.Call) {
				require.True(t, c.CaptainDecides)
				require.NotEmpty(t, hourAt(t, c, 10).Closed.Key)
				require.Equal(t, models.GradePoor, hourAt(t, c, 10).Kite, "heavy air flies a heavy kite")
				require.False(t, c.Charter.Known())
			},
		},
		{
			name: "the same with passengers for hire aboard", blocks: []block{{0, 26, 20, 31, 6, 6, 40, 10, 0}}, change: event(true),
			tactics: one(stay),
		},
		{
			name: "own trip in 22 kn", blocks: []block{{0, 22, 40, 26, 5, 6, 30, 10, 0}},
			change:  func(o *models.Outlook) { o.Trip.Kind, o.Trip.ForHire = models.OwnTrip, models.Known(false) },
			tactics: one(stay), reasons: []string{"closed.own_wind"}, cautions: []string{"caution.own_trip"},
			also: func(t *testing.T, c models.Call) { require.True(t, c.CaptainDecides) },
		},
		{
			name: "family in 3 ft at 4 s", blocks: []block{{0, 14, 90, 18, 3, 4, 30, 10, 0}},
			change:  func(o *models.Outlook) { o.Trip.Party = models.Family },
			tactics: one(stay), actions: []models.CharterAction{models.CharterMove}, reasons: []string{"closed.ride"},
		},
		{
			name: "north 18 kn in the lee of the chain", blocks: []block{{0, 17, 0, 21, 2.5, 5, 20, 5, 0}},
			change:  portB,
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterGo}, not: []models.CharterAction{models.CharterRoughNote},
		},
		{
			// 18 kn over 3 nmi raise 1.3 ft: the official forecast says that this
			// sea runs off the land.
			name: "rough off the land: fish in the lee", blocks: []block{{0, 18, 290, 22, 4.5, 6, 20, 5, 0}},
			change: func(o *models.Outlook) {
				hoursOf(o, 0, 24, func(h *models.Hour) { h.SeaFrom = models.Known(units.From(290)) })
			},
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterRoughNote, models.CharterLee},
		},
		{
			name: "gusty off the land, 12 gusting 24", blocks: []block{{0, 12, 225, 24, 1.5, 4, 30, 10, 0}},
			tactics: one(sight, kite, models.TacticKiteSight, stay), leave: "07:00", back: "15:00", draft: []string{"guests.slow"},
			also: func(t *testing.T, c models.Call) {
				require.Equal(t, models.GradePoor, hourAt(t, c, 10).Kite)
				require.NotContains(t, keysWithin(c.WouldChange), "change.cloud_more", "one slow tactic for another")
			},
		},
		{
			name: "13 kn of gust over a steady wind", blocks: []block{{0, 14, 0, 27, 3, 6, 20, 10, 0}},
			change:  func(o *models.Outlook) { hoursOf(o, 0, 24, func(h *models.Hour) { h.Current = models.Known(2 * kn) }) },
			tactics: one(sight), leave: "07:00", back: "15:00",
			also: func(t *testing.T, c models.Call) { require.Equal(t, models.GradeNo, hourAt(t, c, 10).Kite) },
		},
		{
			name: "steady rain", blocks: []block{{0, 13, 80, 16, 2, 6, 100, 70, 5}},
			tactics: one(stay), actions: []models.CharterAction{models.CharterMove}, reasons: []string{"reason.soaked"}, draft: []string{"guests.why.rain"},
			also: func(t *testing.T, c models.Call) { require.Contains(t, keysWithin(c.WouldChange), "change.rain_less") },
		},
		{
			name: "30 % of thunder in the afternoon", blocks: []block{{0, 11, 135, 14, 2, 5, 30, 15, 5}, {12, 12, 135, 17, 2, 5, 40, 30, 30}},
			tactics: one(kite), leave: "07:00", back: "15:00", cautions: []string{"caution.thunder", "caution.radar"},
		},
		{
			name: "45 % of thunder from noon", blocks: []block{{0, 11, 135, 14, 2, 5, 30, 15, 5}, {12, 12, 135, 20, 2, 5, 60, 50, 45}},
			tactics: one(kite), leave: "06:30", back: "11:00", actions: []models.CharterAction{models.CharterShorten}, reasons: []string{"reason.back_before"},
			cautions: []string{"caution.thunder"},
		},
		{
			name: "long swell and a hard ebb at midday", blocks: []block{{0, 9, 110, 12, 5, 12, 30, 10, 0}},
			change: func(o *models.Outlook) {
				o.Boat.Kind, o.Boat.Length = models.Sportfish, 46*ft
				hoursOf(o, 0, 24, func(h *models.Hour) { h.SeaFrom = models.Known(units.From(90)) })
				hoursOf(o, 12, 18, func(h *models.Hour) { h.InletCurrent = models.Known(-3 * kn) })
			},
			tactics: one(kite), leave: "06:30", back: "11:00", actions: []models.CharterAction{models.CharterShorten}, reasons: []string{"reason.back_before"},
		},
		{
			name: "ebb at first light, the swell lets nobody out before slack", blocks: []block{{0, 9, 110, 12, 5, 12, 30, 10, 0}},
			change: func(o *models.Outlook) {
				o.Boat.Kind, o.Boat.Length = models.Sportfish, 46*ft
				hoursOf(o, 0, 24, func(h *models.Hour) { h.SeaFrom = models.Known(units.From(90)) })
				hoursOf(o, 4, 9, func(h *models.Hour) { h.InletCurrent = models.Known(-2 * kn) })
			},
			tactics: one(kite), leave: "09:00", back: "17:00", actions: []models.CharterAction{models.CharterStartLater}, reasons: []string{"reason.not_before"},
		},
		{
			name: "fog all day", blocks: []block{{0, 8, 150, 10, 1, 5, 100, 10, 0}},
			change: func(o *models.Outlook) {
				hoursOf(o, 0, 24, func(h *models.Hour) { h.Visibility = models.Known(0.4 * units.NauticalMile) })
			},
			tactics: one(stay), reasons: []string{"closed.fog_stay"}, draft: []string{"guests.why.fog"},
			also: func(t *testing.T, c models.Call) { require.Contains(t, keysWithin(c.WouldChange), "change.fog_lifts") },
		},
		{
			name: "chance of thunder unknown", blocks: fairWind(),
			change:  func(o *models.Outlook) { hoursOf(o, 0, 24, func(h *models.Hour) { h.Thunder = models.Opt[float64]{} }) },
			tactics: one(kite), leave: "07:00", back: "15:00", cautions: []string{"caution.thunder", "caution.radar"},
			also: func(t *testing.T, c models.Call) {
				require.Equal(t, models.GradeFair, hourAt(t, c, 10).Kite)
				require.Contains(t, keysWithin(c.Missing), "missing.thunder")
			},
		},
		{
			name: "seas unknown", blocks: fairWind(),
			change: func(o *models.Outlook) {
				hoursOf(o, 0, 24, func(h *models.Hour) { h.Sea, h.Period = models.Opt[units.Length]{}, models.Opt[float64]{} })
			},
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterRoughNote}, draft: []string{"guests.sea_unknown"},
			also: func(t *testing.T, c models.Call) {
				require.Less(t, c.Answers.Runs.Share, 0.9)
				require.Contains(t, keysWithin(c.Missing), "missing.seas")
			},
		},
		{
			name: "warnings feed down", blocks: fairWind(),
			change:  func(o *models.Outlook) { o.Warnings = models.Opt[[]models.Warning]{} },
			tactics: one(kite), leave: "07:00", back: "15:00", cautions: []string{"caution.warnings_unknown"}, draft: []string{"guests.warnings_unknown"},
		},
		{
			name: "afternoon half day", blocks: fairWind(), change: func(o *models.Outlook) { booked(o, "13:00", "17:00") },
			tactics: one(kite), leave: "13:00", back: "17:00", actions: []models.CharterAction{models.CharterGo},
		},
		{
			name: "booked before first light in winter", blocks: fairWind(), change: func(o *models.Outlook) { booked(o, "06:00", "14:00") },
			tactics: one(kite), leave: "06:00", back: "14:00", actions: []models.CharterAction{models.CharterGo},
		},
		{
			name: "booked into the night", blocks: fairWind(), change: func(o *models.Outlook) { booked(o, "12:00", "20:00") },
			tactics: one(kite), leave: "11:30", back: "18:30",
		},
		{
			name: "bait showering on the reef, the edge out of reach", blocks: []block{{0, 8, 50, 10, 1, 4, 10, 0, 0}},
			change: func(o *models.Outlook) {
				o.Reports.EdgeInReach, o.Reports.EdgeDepth = models.Known(false), models.Opt[units.Length]{}
				o.Reports.Water, o.Reports.BaitShowering = models.Known(models.WaterClear), models.Known(true)
				hoursOf(o, 0, 24, func(h *models.Hour) { h.Current = models.Known(0.3 * kn) })
			},
			tactics: one(sight, models.TacticKiteSight), leave: "07:30", back: "15:00", reasons: []string{"reason.shower"},
		},
		{
			name: "tailing weather out of season", blocks: []block{{0, 17, 0, 21, 4, 7, 10, 5, 0}},
			change: func(o *models.Outlook) {
				o.Reports.Season = models.Known(models.SeasonOff)
				hoursOf(o, 0, 24, func(h *models.Hour) { h.Current = models.Known(2 * kn) })
			},
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterRoughNote},
		},
		{
			name: "tailing weather in the spring run, experienced party", blocks: []block{{0, 17, 0, 21, 4, 7, 10, 5, 0}},
			change: func(o *models.Outlook) {
				o.Trip.Party, o.Reports.Season = models.Experienced, models.Known(models.SeasonSpringRun)
				o.Reports.FishOnTop = models.Known(models.SeenToday)
				hoursOf(o, 0, 24, func(h *models.Hour) { h.Current = models.Known(2.5 * kn) })
			},
			tactics: one(models.TacticEither, models.TacticKiteSight), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterRoughNote},
		},
		{
			name: "the wind swings 70 degrees", blocks: []block{{0, 12, 180, 16, 2, 5, 30, 10, 0}},
			change: func(o *models.Outlook) {
				hoursOf(o, 0, 24, func(h *models.Hour) { h.DirectionSpread = models.Known(70.0) })
			},
			tactics: one(kite), leave: "07:00", back: "15:00",
			reasons: []string{"reason.hard_kite.direction"},
			also:    func(t *testing.T, c models.Call) { require.LessOrEqual(t, hourAt(t, c, 10).Kite, models.GradePoor) },
		},
		{
			name: "27 ft boat in 4 ft", blocks: []block{{0, 15, 60, 19, 4, 6, 30, 10, 0}},
			change:  func(o *models.Outlook) { o.Boat.Length = 27 * ft },
			tactics: one(stay), reasons: []string{"closed.ride"},
		},
		{
			name: "27 ft boat in 3 ft", blocks: []block{{0, 13, 60, 16, 3, 6, 30, 10, 0}},
			change:  func(o *models.Outlook) { o.Boat.Length = 27 * ft },
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterRoughNote},
		},
		{
			name: "52 ft sportfish in 6 ft", blocks: []block{{0, 17, 60, 22, 6, 8, 30, 10, 0}},
			change: func(o *models.Outlook) {
				o.Boat.Kind, o.Boat.Length = models.Sportfish, 52*ft
				hoursOf(o, 0, 24, func(h *models.Hour) { h.SeaFrom = models.Known(units.From(20)) })
			},
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterRoughNote}, draft: []string{"guests.feel.rough", "guests.single_waves"},
		},
		{
			name: "rip currents and coastal flood", blocks: fairWind(),
			change: func(o *models.Outlook) {
				product(o, "Rip Current Statement", "/O.NEW.KMFL.RP.S.0003.270119T1000Z-270120T0000Z/", "05:00", 14*time.Hour)
				product(o, "Coastal Flood Advisory", "/O.NEW.KMFL.CF.Y.0003.270119T1000Z-270120T0000Z/", "05:00", 14*time.Hour)
			},
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterGo}, draft: []string{"guests.product_times"},
		},
		{
			name: "hurricane watch from the evening, glass calm before it", blocks: bluebird(),
			change: func(o *models.Outlook) {
				product(o, "Hurricane Watch", "/O.NEW.KMFL.HU.A.1009.270119T1500Z-270121T0000Z/", "10:00", 48*time.Hour)
			},
			tactics: one(stay), actions: []models.CharterAction{models.CharterMove},
		},
		{
			name: "it blows 22 kn until nine, nothing official", blocks: []block{{0, 22, 30, 27, 4, 6, 30, 10, 0}, {9, 15, 40, 19, 3.5, 6, 30, 10, 0}},
			tactics: one(kite, models.TacticEither, models.TacticKiteSight), leave: "09:00", back: "17:00", actions: []models.CharterAction{models.CharterStartLater}, reasons: []string{"reason.not_before"},
		},
		{
			name: "a front with storms at one", blocks: []block{{0, 13, 200, 18, 2, 5, 50, 10, 5}, {13, 25, 290, 38, 4, 4, 100, 90, 60}, {15, 20, 320, 29, 4, 5, 60, 20, 5}},
			tactics: one(kite), leave: "06:30", back: "12:00", actions: []models.CharterAction{models.CharterShorten},
		},
		{
			name: "the advisory ended in the night", blocks: fairWind(),
			change:  func(o *models.Outlook) { product(o, "Small Craft Advisory", "", "00:00", 4*time.Hour) },
			tactics: one(kite), leave: "07:00", back: "15:00", actions: []models.CharterAction{models.CharterGo},
		},
		{
			name: "advisory from two in the middle of a tournament day", blocks: []block{{0, 16, 60, 20, 4, 6, 30, 10, 0}, {14, 22, 60, 27, 5, 6, 30, 10, 0}},
			change: func(o *models.Outlook) {
				event(false)(o)
				product(o, "Small Craft Advisory", "", "14:00", 24*time.Hour)
			},
			tactics: one(kite), leave: "06:30", back: "17:00", cautions: []string{"caution.event", "caution.charters_stay_in"},
		},
		{
			name: "tailing weather under a lid of cloud", blocks: []block{{0, 16, 0, 20, 3.5, 7, 95, 20, 0}},
			change:  func(o *models.Outlook) { hoursOf(o, 0, 24, func(h *models.Hour) { h.Current = models.Known(2 * kn) }) },
			tactics: one(kite), leave: "07:00", back: "15:00",
			also: func(t *testing.T, c models.Call) { require.LessOrEqual(t, hourAt(t, c, 11).Sight, models.GradePoor) },
		},
		{
			name: "variable air and no current", blocks: []block{{0, 4, 300, 6, 1, 5, 20, 0, 0}},
			change: func(o *models.Outlook) {
				hoursOf(o, 0, 24, func(h *models.Hour) { h.Current, h.DirectionSpread = models.Known(0.2*kn), models.Known(90.0) })
			},
			tactics: one(helium, sight, models.TacticKiteSight), leave: "07:00", back: "15:00", draft: []string{"guests.slow"},
			also: func(t *testing.T, c models.Call) { require.LessOrEqual(t, hourAt(t, c, 10).Kite, models.GradePoor) },
		},
		{
			name: "summer storms come off the land at two", blocks: []block{{0, 9, 250, 12, 1, 4, 30, 15, 10}, {12, 10, 240, 16, 1.5, 4, 60, 40, 25}, {14, 14, 260, 30, 2, 4, 90, 70, 60}},
			change:  func(o *models.Outlook) { o.Reports.Season = models.Known(models.SeasonOff) },
			tactics: one(kite), leave: "06:30", back: "13:00", actions: []models.CharterAction{models.CharterShorten}, reasons: []string{"reason.back_before"},
			cautions: []string{"caution.thunder", "caution.radar"}, draft: []string{"guests.why.thunder"},
		},
		{
			name: "storms at noon of a tournament day", blocks: []block{{0, 13, 160, 17, 2, 5, 40, 10, 5}, {12, 16, 240, 26, 3, 4, 90, 70, 55}},
			change:  event(false),
			tactics: one(kite), leave: "06:30", back: "11:00", reasons: []string{"reason.back_before"},
			also: func(t *testing.T, c models.Call) { require.Equal(t, models.DoNoGo, hourAt(t, c, 13).Do) },
		},
		{
			name: "family in 2 ft at 4 s", blocks: []block{{0, 11, 90, 14, 2, 4, 30, 10, 0}},
			change: func(o *models.Outlook) {
				o.Trip.Party = models.Family
				booked(o, "08:00", "12:00")
			},
			tactics: one(kite), leave: "08:00", back: "12:00", actions: []models.CharterAction{models.CharterRoughNote},
		},
		{
			name: "the wind and the sea fit, and thunder is sure from the start", blocks: []block{{0, 13, 160, 17, 2, 5, 80, 60, 70}},
			tactics: one(stay), reasons: []string{"closed.thunder"}, draft: []string{"guests.why.thunder"},
		},
		{
			name: "too few hands for 19 kn", blocks: []block{{0, 19, 40, 23, 3.5, 6, 60, 10, 0}},
			change:  func(o *models.Outlook) { o.Boat.Crew = 1 },
			tactics: one(kite), leave: "07:00", back: "15:00",
			also: func(t *testing.T, c models.Call) { require.LessOrEqual(t, hourAt(t, c, 10).Kite, models.GradeFair) },
		},
	}
}

// TestInventedDays holds the judgement to days that no case file has: common
// practice, no source.
func TestInventedDays(t *testing.T) {
	for _, x := range inventedDays() {
		t.Run(x.name, func(t *testing.T) {
			o := stock(t, models.Date{Year: 2027, Month: 1, Day: 19}, x.blocks)
			if x.change != nil {
				x.change(&o)
			}
			c := judge(o)
			require.Contains(t, x.tactics, c.Tactic)
			if c.Tactic != models.TacticStayIn {
				near(t, c, "leaves", c.Leave, x.leave)
				near(t, c, "is back", c.Back, x.back)
			}
			ch, _ := c.Charter.Get()
			for _, a := range x.actions {
				require.Contains(t, ch.Actions, a)
			}
			for _, a := range x.not {
				require.NotContains(t, ch.Actions, a)
			}
			for _, k := range x.reasons {
				require.Contains(t, keysWithin(c.Reasons), k)
			}
			for _, k := range x.noReasons {
				require.NotContains(t, keysWithin(c.Reasons), k)
			}
			for _, k := range x.cautions {
				require.Contains(t, keysOf(c.Cautions), k)
			}
			if c.Tactic == models.TacticStayIn {
				require.NotContains(t, keysOf(ch.Message), "guests.bye", "nobody comes to the dock")
			}
			for _, k := range x.draft {
				require.Contains(t, keysWithin(ch.Message), k)
			}
			if x.also != nil {
				x.also(t, c)
			}
		})
	}
}

func near(t *testing.T, c models.Call, what string, at models.Opt[time.Time], clock string) {
	d, ok := minutesApart(c, at, clock)
	require.True(t, ok && d <= 30, "%s at %s, expert %s", what, clockOf(c, at), clock)
}

// keysWithin are the keys of phrases and of the phrases that they hold.
func keysWithin(list []models.Phrase) []string {
	var out []string
	for _, p := range list {
		out = append(out, p.Key)
		for _, a := range p.Args {
			if inner, ok := a.(models.Phrase); ok {
				out = append(out, keysWithin([]models.Phrase{inner})...)
			}
		}
	}
	return out
}
