package verdict

// The exit codes that a verdict can stand for. 2 is taken: usage or bad
// input, which never gets as far as a verdict.
const (
	ExitPassed         = 0
	ExitFailed         = 1
	ExitBenchFault     = 3
	ExitControllerGone = 4
)

// ExitCode returns the code for the whole. A bench fault wins over the
// rest, because it puts every finding in doubt, and a missing controller
// wins over a failed criterion, because it explains it. A verdict without
// runs is a bench fault: nothing judged is not a pass.
//
// With strict, a criterion that was undetermined or not exercised counts as
// failed, and so does a run without criteria.
func (v Verdict) ExitCode(strict bool) int {
	if len(v.Runs) == 0 {
		return ExitBenchFault
	}
	code := ExitPassed
	for _, run := range v.Runs {
		switch c := run.exitCode(strict); {
		case c == ExitBenchFault:
			return c
		case c > code:
			code = c
		}
	}
	return code
}

func (r Run) exitCode(strict bool) int {
	if r.Error != nil {
		if r.Error.Kind == ControllerNeverCame || r.Error.Kind == ControllerDied {
			return ExitControllerGone
		}
		return ExitBenchFault
	}
	if r.Count(Failed) > 0 {
		return ExitFailed
	}
	if strict && (len(r.Criteria) == 0 || r.Count(Passed) < len(r.Criteria)) {
		return ExitFailed
	}
	return ExitPassed
}
