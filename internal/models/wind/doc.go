// Package wind moves a wind between heights and averaging times, averages
// winds without the traps of directions, and tells what the water, a drifting
// boat and a kite feel of it. It is pure: no I/O, no clock.
//
// Speeds are means over about ten minutes unless said otherwise. Heights are
// above the still water. Temperatures are of the air near the anemometer and
// of the water's skin or top metre.
package wind
