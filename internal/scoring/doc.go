// Package scoring turns an outlook into the call: hour judgements made of
// named factors, the gate, the plan of the day, confidence over the members,
// what would change it, the charter, the bait and the load list.
//
// Everything is a pure function of its arguments. Facts of the trade behind
// the curves are common practice, no source, unless a comment names one; they
// are starting values for the captain to change.
package scoring
