// Package nws reads what the national weather service publishes for a piece
// of coast: warnings, its own gridded forecast and the coastal waters text.
//
// What it says about warnings errs on one side: a product is shown unless the
// service has said, or time has made certain, that it is over. A feed that
// could not be read is an error and never an empty list.
package nws
