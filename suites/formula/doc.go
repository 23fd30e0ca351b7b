// Package formula judges what a site does against a sentence of temporal logic that a user writes, and
// says by how much it holds: the quantitative semantics of signal temporal logic (A. Donzé, O. Maler, Robust
// satisfaction of temporal logic over real-valued signals, FORMATS 2010) over a run of equal steps.
//
// A sentence in our own words:
//
//	always (grid > 18 kW implies eventually within 2 s (grid <= 18 kW))
//	not (north > 500 W until within 1 min south < -500 W)
//
// Comparisons (<, <=, >, >=) of sums of signals and quantities; abs, +, -, and products and quotients with a number; not,
// and, or, implies; always, eventually and until, each with a window or over the rest of the run:
//
//	within HI      from now to HI later; for HI means the same and reads better after always
//	in LO..HI      from LO to HI later
//	from LO        from LO later to the end
//
// The margin of a comparison is how far its sides are apart, in their unit, positive where it holds; < and <= are
// alike in it. "per Q" behind a comparison divides its margin by the quantity Q, so that unlike units compare: all
// comparisons of a sentence must have one unit in the end. And takes the least margin of both, or the greatest,
// not the opposite; always is the least over its window, eventually the greatest; x until y is the greatest, over the times in
// the window, of the least of y's margin then and of x's margin from now until then. A sentence is judged at the start of
// the run. An operator without a window must not stand under one that has a window, nor under another
// without: its value would be known at no time before the end.
//
// A run may end before a sentence is decided. Its margin then lies between two bounds, whatever would have come.
package formula
