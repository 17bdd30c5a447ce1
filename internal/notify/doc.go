// Package notify decides what to tell, to whom and whether again, writes the
// messages, and gets them out.
//
// The parts are apart on purpose. Evening, Morning, Warned and the others
// write a Draft for one Person: a stable key, a digest and a level of what it
// says, and the words. Decide is pure: it looks at what was last told under
// the key and answers with a reason. What is to be sent becomes a
// models.Message and goes into the Ledger first; the Outbox takes it from
// there, so that a crash at any instant repeats at most the one message in
// flight, under the same Message-ID, and loses none.
//
// Signed links with one use (Mint, Verify) let the captain approve a draft
// from the message itself.
package notify
