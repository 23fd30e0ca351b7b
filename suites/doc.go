// Package suites judges controllers: it plays a scenario against one, watches every
// step with the criteria's monitors, and keeps the evidence.
//
// # Layers
//
// Play is a plain function from a scenario and a controller to an Outcome; a sweep
// can call it a million times. Accept turns scenarios into ginkgo specs, one
// Ordered, ContinueOnFailure container a scenario and one It a criterion, for go test
// and for the command line alike. Hold is the gomega matcher between the two; SettleWithin, NotHunt and the
// others judge a played scenario by limits of their own.
package suites
