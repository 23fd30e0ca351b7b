// Package criteria judges a run while it happens. Each criterion is an online
// monitor: it sees every step once, keeps memory that depends on the length of
// its own windows and never on the length of the run, and answers at any time
// with a status and a signed margin.
//
// # Margins
//
// A margin is the quantitative semantics of signal temporal logic over sampled
// signals: a predicate x < c has the margin c - x, "always" is the minimum over
// time, "eventually" is the maximum, and so a positive margin passes, a negative
// one fails, and its size says by how much, in the unit of the thing judged
// (A. Donzé and O. Maler, Robust Satisfaction of Temporal Logic over Real-Valued
// Signals, FORMATS 2010). A margin of exactly zero passes, because the best that
// the batteries can do often equals the limit that is derived from it.
//
// # Windows
//
// A window of length d, over a step h, is closed at both ends and so holds
// floor(d/h) + 1 samples. "except 2 s" therefore tolerates an excess that shows
// in 20 successive samples of 100 ms and condemns one that shows in 21, and
// "except 0 s" condemns any single sample. A window that is longer than the run
// so far has not been violated yet and does not count.
//
// # What is judged
//
// A verdict never reuses the formula that made the number: this package imports
// nothing of the plant, and its inputs are plain powers, states of charge and
// the room that each inverter has. What no controller could have avoided is no
// controller's fault, so the criteria compare with what the batteries could have
// done at that instant.
//
// # What the judge feeds
//
// One Sample a step, with consecutive ticks and the same length of step. Powers,
// states and limits are those at the end of the step; commands, writes and
// traffic are those since the step before, in slices that the judge reuses. What
// it does not know it leaves at zero: the criteria that need it are then not
// exercised. Criteria that keep books of inverters or devices are told their names,
// whose number is how many there must be.
//
// # Status
//
// Only a criterion that was exercised can pass: each monitor says what counts as
// exercise. Samples that are not finite, that skip a tick or that come with
// another step length are a fault of the bench; the status is then undetermined
// and Detail says so, and the controller is not blamed.
package criteria
