//go:build !linux

package app_test

import "testing"

// asNobody runs f as whoever runs the tests.
func asNobody(_ *testing.T, f func()) { f() }
