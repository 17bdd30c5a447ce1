// Package tide predicts the height of the tide and the strength of tidal
// streams from harmonic constants, the way the United States' tide tables are
// made: Schureman's equilibrium arguments at the start of each year, node
// factors at its middle, and time and height offsets for subordinate
// stations. It is pure: no I/O, no clock.
//
// A prediction knows nothing of wind, rain or pressure: water levels a foot
// off and slack water half an hour off are ordinary.
package tide
