// Package learn turns a field log into a site and a scenario that reproduce what it shows.
//
// # How devices are estimated
//
// Each inverter is estimated by itself, with the plant's own model of it: the recorded grid flow is laid on a meter
// that the inverter follows, and what the model puts out is compared with what was recorded (device.go, fit.go). Nothing is
// fed back, so that a loop on the verge of hunting can be estimated as well as a calm one, and the other inverter's
// doings, known or not, are in the recorded flow.
//
// An integrator remembers every error of its meter. What is left over between log and model is therefore a level
// that walks, plus noise, and is whitened as such (whiten.go) before it is squared; else the intervals would be far
// too narrow. What an estimate owes to the log and what to the assumptions is told by the curvature of both
// (interval.go): a parameter is called identifiable only if the log alone pins it down.
//
// The fit has many minima. Each rhythm is tried from many starts, and again once the flow between the samples is known
// better (search.go). A largest power that the log never shows is fitted too, where the loop ran into it (cutoff.go).
//
// # What can be reproduced
//
// The scenario is run again with noise on the meters and other figures for what the log does not tell (scatter.go). Loops that run into
// their limits can swing otherwise each time; then the log's swing is chance, and nobody who knew the site would make it again.
//
// Products that feed a sum are not fenced here: what is learned is rounded long before it shapes a trace.
package learn
