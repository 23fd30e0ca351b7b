package emulator

import "time"

// Punctuality is open to tests: what it makes of known latenesses.
type Punctuality struct{ punctuality }

// Note counts one step.
func (p *Punctuality) Note(late time.Duration) { p.note(late) }

// Quantile is a part's lateness.
func (p *Punctuality) Quantile(part float64) time.Duration { return p.quantile(part) }
