// Package sweep chooses settings: which points of the varied settings are tried, what each came to over all stories and
// seeds, which of them nothing else beats, and how well the one that is recommended stands on seeds and sites that had no
// part in the choice.
//
// It plays nothing itself: a Plan gives runs, whoever plays them brings results, and a Summary is worked out of these. So the
// same results give the same summary, whatever played them and in which order.
package sweep
