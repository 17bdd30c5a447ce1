// Package web answers what a captain and a mate look at: the pages, the
// calendar, the JSON documents, and the way to say something by them. It
// decides nothing: a Desk answers what is shown and does what is asked.
//
// Pages are made whole on the server and work without JavaScript. Who is not
// logged in sees the call and what went into it, and never a guest's name,
// contact or message.
package web
