// Package store remembers: what was seen and forecast, what was called and
// told, what the captain and his bookings say, and how the daemon's jobs went.
// It is one SQLite file that several processes may use at once, since the
// daemon and the commands share it.
//
// [Open] checks the file, copies it before a change of schema, and refuses one
// that is damaged, foreign or newer than the program. What has been answered
// as kept survives the death of the process at any instant; after a loss of
// power the newest changes may be missing, never a part of one.
//
// Instants go in and come out in UTC and are kept to the second. Civil days
// and times of day are those of the port. Contacts of guests are erased by
// [Store.Prune], which also keeps the file within bounds.
package store
