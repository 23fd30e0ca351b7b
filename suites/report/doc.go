// Package report shows a verdict to people: a self-contained HTML page with
// the plots of the run as inline SVG, a table for the terminal, and a
// progress line.
//
// The page needs no network, follows the reader's light or dark setting,
// prints, and reads on a phone: each figure is drawn twice, for a wide and
// for a narrow column, and the style sheet shows one of them, so that ticks
// and labels fit both. A script of our own adds values under the pointer and
// a closer look; without it the page loses only that. Equal inputs give equal
// bytes; no wall time, host or path enters.
//
// Colours are the set of Okabe and Ito (M. Okabe, K. Ito, "Color Universal
// Design: how to make figures and presentations that are friendly to
// colorblind people", 2002, revised 2008), which readers with any common
// colour vision deficiency can tell apart. Vermilion is kept for violations.
// No meaning hangs on colour alone.
package report
