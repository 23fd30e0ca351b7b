// Package atlas draws every model of the plant with the published points on it, on one page, so
// that a power engineer can see whether the bench's physics are true.
//
// A curve is always what package physics answers, or what a Plant does when it is stepped; no
// formula is written a second time here. The published values stand in the tables of published*.go
// with their ids and sources. Each picture tells by how much the model misses them.
package atlas
