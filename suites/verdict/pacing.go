package verdict

// Pacing tells how well the plant kept a pace that follows the wall clock. The figures are of this
// machine at that time; they differ from run to run.
type Pacing struct {
	Factor Number `json:"factor"` // seconds of simulated time in one of the wall clock
	// StepMS is how long a step takes on the wall clock. The rest is how long after its time a step began.
	StepMS      Number `json:"step_ms"`
	LateP50MS   Number `json:"late_p50_ms"`
	LateP99MS   Number `json:"late_p99_ms"`
	LateWorstMS Number `json:"late_worst_ms"`
	// FellBehind: more than one step in a hundred began after the next one was due.
	FellBehind bool `json:"fell_behind"`
	// Note says so in a sentence.
	Note string `json:"note,omitempty"`
}
