// Package archtest holds tests only: which room may import which, which
// library lives where, and the habits that a compiler does not check.
package archtest
