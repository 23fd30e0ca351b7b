package verdict

// Wire counts what the controller did on Modbus up to the end of the run. In stepped pace equal runs
// count the same.
type Wire struct {
	Reads  int `json:"reads"`
	Writes int `json:"writes"`
	// Refused writes were answered with an exception, those not in force were stored while something else
	// kept them from being obeyed, and unanswered ones met a sick link.
	Refused    int `json:"refused"`
	NotInForce int `json:"not_in_force"`
	Unanswered int `json:"unanswered"`
	// Exceptions counts those of reads, writes and waits together.
	Exceptions   int    `json:"exceptions"`
	Waits        int    `json:"waits"`
	LongestWaitS Number `json:"longest_wait_s,omitzero"`
	// Notes say in sentences what the controller's author would want to know.
	Notes []string `json:"notes,omitempty"`
}
