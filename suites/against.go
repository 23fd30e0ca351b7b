package suites

import (
	"context"

	"kilter/emulator"
	"kilter/scenarios"
)

// Against plays a scenario, a built-in one or a file, against a controller, in stepped pace: the first line of a spec.
// change, if any, alters the options before the play.
func Against(ctx context.Context, scenario string, c Controller, change ...func(*Options)) (*Outcome, error) {
	sc, err := scenarios.Find(scenario)
	if err != nil {
		return nil, err
	}
	opt := Options{Pace: emulator.Stepped, Controller: c}
	for _, do := range change {
		do(&opt)
	}
	return Play(ctx, sc, opt)
}

// Stories are the cases of an acceptance suite: the named scenarios, or all built-in ones, each against a controller.
//
//	var _ = suites.Accept(false, suites.Stories(mine)...)
//
// It panics where a scenario cannot be read, since specs are declared before anything can fail.
func Stories(c Controller, names ...string) []Case {
	if len(names) == 0 {
		names = scenarios.BuiltinNames()
	}
	cases := make([]Case, len(names))
	for i, name := range names {
		sc, err := scenarios.Find(name)
		if err != nil {
			panic(err)
		}
		cases[i] = Case{Scenario: sc, Play: func(ctx context.Context) (*Outcome, error) {
			return Play(ctx, sc, Options{Pace: emulator.Stepped, Controller: c})
		}}
	}
	return cases
}
