// Package wave holds what waves do: how long they are and how fast they run
// at any depth, how steep they are, how high single waves come, what a
// current does to them, and how much sea a wind can raise. It is pure: no
// I/O, no clock.
//
// Heights are significant heights (four times the square root of the
// variance) and periods are peak periods unless said otherwise. A depth of
// zero stands for deep water.
//
// # Not twice
//
// Some series already hold what the current does to the sea: wave models
// that are run with currents, and the official sea forecasts, which are made
// by people who know the water (their models.Hour.SeaIncludesCurrent is
// true). Shift and AtInlet never look at that; the caller does, and does not
// call Shift on such a sea for the same current. A current that the series
// cannot know, such as the stream in a narrow inlet, is still added.
package wave
