package criteria

import "time"

// NewImport watches that import stays below a bound, for instance what a main
// fuse carries, except for excesses that last no longer than Except, and judged
// against what the batteries could have done: import that no discharge could
// have covered is no fault. The formula stands at flowLimit, with the direction
// of import.
func NewImport(p FlowLimit, step time.Duration) (Monitor, error) {
	return newFlowLimit("import", 1, p, step)
}
