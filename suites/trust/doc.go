// Package trust measures what a verdict is worth: how often the judging blames a
// controller that is sound, and how often it lets one pass that is not.
//
// It draws cases: a site, a controller of one of three designs, a story of loads
// and sky. Each case is stable or unstable by a truth of its own, which the
// monitors never see: the spectral radius of the sampled system that controller,
// meters and inverters make for small signals (loop.go), and a ring-down of an
// hour in the plant with all that is given frozen (truth.go). Then the case is
// played in process, without a wire, and every criterion that applies is judged
// against limits that are derived from the site as an author of a story derives
// them (limits.go).
//
//	false alarm: a criterion fails in a stable case
//	miss: no criterion fails in an unstable case whose batteries have swung beyond
//	      the bound for five periods
//
// A case is named by its number and the study's seed, and can be played again
// alone. Its numbers come from that seed alone; logarithms and eigenvalues may
// differ in the last digits between processors, which can move a case that lies on
// the edge of what counts as stable.
package trust
