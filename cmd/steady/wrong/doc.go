// Package wrong is a set of controllers that are wrong on purpose, each with one fault that somebody has
// made before. They show that the bench finds what it is meant to find: each names the story that brings its
// fault to light, the criterion that fails there, and when.
//
// Most are the reference controller with one part exchanged: what it reads in the bench file, how it speaks to
// a device, what it sees, or what it wants. A few are another design, which gives each battery a set point, with
// one fault in it; without a fault that design passes the same stories. None knows more than Modbus and the bench
// file.
package wrong
