package formula

// oppositeVerdict is not of a part at the start of the run.
type oppositeVerdict struct{ verdict }

func (v oppositeVerdict) now() outcome           { return v.verdict.now().opposite() }
func (v oppositeVerdict) clone(t *tally) verdict { return oppositeVerdict{v.verdict.clone(t)} }

// bothVerdict is and of two parts at the start of the run.
type bothVerdict struct{ a, b verdict }

func (v bothVerdict) observe(values []float64, how future) {
	v.a.observe(values, how)
	v.b.observe(values, how)
}
func (v bothVerdict) now() outcome { return v.a.now().and(v.b.now()) }
func (v bothVerdict) occasions(conditional bool) int64 {
	return v.a.occasions(conditional) + v.b.occasions(conditional)
}
func (v bothVerdict) clone(t *tally) verdict { return bothVerdict{v.a.clone(t), v.b.clone(t)} }
func (v bothVerdict) end(steps int64) {
	v.a.end(steps)
	v.b.end(steps)
}
func (v bothVerdict) wants() int64 { return max(v.a.wants(), v.b.wants()) }

// implicationVerdict is implies of two parts at the start of the run.
type implicationVerdict struct{ bothVerdict }

func (v implicationVerdict) now() outcome {
	return v.a.now().and(v.b.now().opposite()).opposite()
}
func (v implicationVerdict) occasions(conditional bool) int64 {
	n := v.bothVerdict.occasions(conditional)
	if v.a.now().lower > 0 {
		n++
	}
	return n
}
func (v implicationVerdict) clone(t *tally) verdict {
	return implicationVerdict{bothVerdict{v.a.clone(t), v.b.clone(t)}}
}
