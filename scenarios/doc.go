// Package scenarios is the file format of the bench: strictly read YAML of two
// kinds. A site says what is wired where, as the tree that an electrician would
// draw; a scenario names a site and says what happens on it and what must hold.
//
// The contract with the caller: a Scenario that loads without error can be
// played. Every range, every reference between names and every unit is checked
// here, where the line of the file is still known; the error names file, line,
// column, path, what was found and what would be right. What a file says is
// held in file types (site_file.go, scenario_file.go), whose field tags are the
// one description of the format: the reader, the writer and the JSON Schema all
// follow it. Site and Scenario are what the bench is built from; they are plain
// data, and nothing in them refers back to the file except for messages.
//
// Units: every quantity in a file carries one, because kW written for W is the
// trade's favourite mistake. Inside, power is in W, energy in Wh, shares in
// 0..1, and power that flows into a device from the site is positive.
package scenarios
