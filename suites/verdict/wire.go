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
	// Controllers sum it up by controller.
	Controllers []WireController `json:"controllers,omitempty"`
	// Devices are those that were asked for anything, by any controller, in the site's order.
	Devices []WireDevice `json:"devices,omitempty"`
	// Notes say in sentences what the controller's author would want to know.
	Notes []string `json:"notes,omitempty"`
}

// WireController counts what one controller asked of all devices.
type WireController struct {
	Controller string `json:"controller"`
	// Polls count how often it began to read its devices anew: a poll begins when its first read comes again.
	Polls        int    `json:"polls"`
	PollsPerHour Number `json:"polls_per_hour,omitzero"` // of simulated time
	Reads        int    `json:"reads"`
	Writes       int    `json:"writes"`
	Exceptions   int    `json:"exceptions"`
	Unanswered   int    `json:"unanswered"`
	Retries      int    `json:"retries"`
	Waits        int    `json:"waits"`
	// SmallestGapS is the least of all devices.
	SmallestGapS Number `json:"smallest_gap_s,omitzero"`
	// Devices are those that it asked, where there are several controllers.
	Devices []WireDevice `json:"devices,omitempty"`
}

// WireDevice counts what the controller asked of one device.
type WireDevice struct {
	Device     string `json:"device"`
	Reads      int    `json:"reads"`
	Writes     int    `json:"writes"`
	Exceptions int    `json:"exceptions"`
	Unanswered int    `json:"unanswered"` // requests of any kind
	// Retries repeat the request before them, which was refused or not answered.
	Retries int `json:"retries"`
	// PerHour is the number of requests in an hour of simulated time.
	PerHour Number `json:"per_hour,omitzero"`
	// SmallestGapS is the least simulated time [s] from the end of a request to the next one.
	SmallestGapS Number `json:"smallest_gap_s,omitzero"`
}
