// Package verdict is the written result of a judged run: the types behind
// verdict.json, its writing and strict reading, the exit code that it stands
// for, and the wording of a failure.
//
// A verdict is evidence that two people on two machines must be able to
// compare byte by byte. So it holds no wall time, host name or file path, its
// figures are rounded when they enter (see Number), and everything that can be
// derived (passed) is derived in one place, New, and checked again
// on writing and reading.
//
// The package judges nothing. Criteria do that, and hand their findings here.
package verdict
