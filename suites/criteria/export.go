package criteria

import "time"

// NewExport watches that export stays below a bound, for instance one that the
// grid operator sets; it mirrors NewImport. Observed and Limit count export as
// positive. Export that full charging could not have taken up is no fault: to
// curtail PV is not the batteries' work.
func NewExport(p FlowLimit, step time.Duration) (Monitor, error) {
	return newFlowLimit("export", -1, p, step)
}
