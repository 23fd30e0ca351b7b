// Package fieldlog reads what some logger wrote at a site, whatever it calls its columns, and says what is wrong with it.
//
// A Format turns a file into a Table of named columns; the formats are listed in format.go, one file each. A Map says
// which column is what. Propose makes one from names, units and the power balance, with its reasons, and it is written for
// people to confirm: nothing is guessed silently. Read with a confirmed map, a Table becomes a Log: powers in W in the
// load convention over one axis of time. Check tells what a reader should know before trusting it.
//
// A log is foreign input: its size is bounded before it is read, and each refusal names file, line, column, what was found and
// what would be right.
package fieldlog
