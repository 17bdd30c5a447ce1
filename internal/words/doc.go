// Package words tells a call: as text for the terminal and the e-mail, and as
// the two JSON documents that people and tests exchange, in the reader's
// language and units. It decides nothing.
package words
