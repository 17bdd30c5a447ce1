// Package sky tells where the sun and the moon stand, when they rise and set,
// how much of the moon is lit, and how well fish can be seen from a tower in
// that light. It is pure: no I/O, no clock.
//
// Positions are good to about 0.01 degree for the sun and 0.02 degree for the
// moon from 1950 to 2100, rise and set to well under a minute where the body
// rises steeply; refraction near the horizon varies by more than that.
package sky
