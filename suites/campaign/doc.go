// Package campaign plays many independent runs, here or on many machines, and tells what each came to.
//
// A Run is whole in itself: the scenario's text, and the controller with its settings. So its key is its identity, any
// worker of the same build plays it alike, and its Result has nothing in it that depends on who played it, when, or how
// fast. A Session hands runs to a queue and gathers their results; what has a result already is not played again.
package campaign
