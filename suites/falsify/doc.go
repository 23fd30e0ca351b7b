// Package falsify looks for a case that breaks a controller: a scenario whose parameters vary within given ranges is played
// again and again, each time where the margins met so far suggest the least one, until a criterion fails.
//
// What it finds is a weakness: a failure that the batteries could not have avoided does not count. A case that is found is brought as near
// to the undisturbed scenario as it stays one, and written as a scenario. The same seed and controller give the same cases,
// wherever and in whatever order the runs are played.
package falsify
