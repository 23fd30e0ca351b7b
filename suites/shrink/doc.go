// Package shrink brings a scenario in which a criterion fails down to what it takes for that: fewer events, a later
// beginning, an earlier end.
package shrink
