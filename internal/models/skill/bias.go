// Package skill measures forecasts against what came: bias, ensemble and
// normal CRPS, Brier score with its decomposition, reliability, and errors of
// directions. Plain numbers go in and come out in the unit of the input; the
// callers hold the quantities.
package skill

import "math"

// Bias is a decaying average of forecast minus observed. The zero Bias has
// seen nothing and corrects nothing.
type Bias struct {
	// Mean is the bias so far, in the unit of the errors.
	Mean float64
	// Cases counts the errors that went in.
	Cases int
}

// Weights of a new case: Slow is that of the national centre's gridded bias
// correction (from memory; e-folding time of about 50 cases), Quick forgets
// within about five.
const (
	Slow  = 0.02
	Quick = 0.2
)

// Add returns the bias after one more error (forecast minus observed):
// b = (1-w) b + w e, for a weight w in (0, 1]. An error that is not a finite
// number leaves the bias as it is.
//
// Reference: Cui2012.
func (b Bias) Add(err, weight float64) Bias {
	if math.IsNaN(err) || math.IsInf(err, 0) {
		return b
	}
	return Bias{Mean: (1-weight)*b.Mean + weight*err, Cases: b.Cases + 1}
}

// Errors are the summary of a set of errors.
type Errors struct {
	N                    int
	Mean, Absolute, Root float64 // bias, mean absolute error, root mean square error
	// Spread is the standard deviation about the mean (n-1); 0 for fewer than
	// two errors.
	Spread float64
}

// Summarise returns bias and sizes of errors (forecast minus observed). Of
// none it returns the zero Errors: ask N first.
func Summarise(errs []float64) Errors {
	e := Errors{N: len(errs)}
	if e.N == 0 {
		return e
	}
	n := float64(e.N)
	for _, x := range errs {
		e.Mean += x / n
		e.Absolute += math.Abs(x) / n
		e.Root += x * x / n
	}
	var ss float64
	for _, x := range errs {
		ss += (x - e.Mean) * (x - e.Mean)
	}
	e.Root = math.Sqrt(e.Root)
	if e.N > 1 {
		e.Spread = math.Sqrt(ss / (n - 1))
	}
	return e
}
