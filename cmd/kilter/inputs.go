package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"kilter/scenarios"
	"kilter/suites"
)

// inputs are the flags that change which scenario is played, whatever plays it.
type inputs struct {
	seed  uint64
	seeds int // how many, from that one on; 0 and 1 are one
	sky   string
	set   func(name string) bool
}

func (in *inputs) flags(cmd *cobra.Command) {
	cmd.Flags().Uint64Var(&in.seed, "seed", 0, "another seed than the scenario's own")
	cmd.Flags().StringVar(&in.sky, "sky", "", "drive the PV with measured irradiance from this CSV `FILE`")
	in.set = cmd.Flags().Changed
}

// input is one scenario, and how it was named.
type input struct {
	name     string
	scenario *scenarios.Scenario
}

// load finds the named scenarios, or all built-in ones where none is named.
func (in *inputs) load(names []string) ([]input, error) {
	if len(names) == 0 {
		names = scenarios.BuiltinNames()
	}
	seen := make(map[string]string, len(names))
	var list []input
	for _, name := range names {
		sc, err := scenarios.Find(name)
		if err != nil {
			return nil, err
		}
		if other, twice := seen[sc.Name]; twice {
			return nil, fmt.Errorf("%s and %s are both called %s, and would share a run folder; check them one after the other", other, name, sc.Name)
		}
		seen[sc.Name] = name
		if in.set("seed") {
			sc = sc.WithSeed(in.seed)
		}
		if in.sky != "" {
			if sc, err = sc.WithSkyFile(in.sky); err != nil {
				return nil, err
			}
		}
		if err := suites.Check(sc); err != nil {
			return nil, err
		}
		list = append(list, input{name, sc})
		for n := 1; n < in.seeds; n++ {
			list = append(list, input{name, sc.WithSeed(sc.Seed + uint64(n))})
		}
	}
	return list, nil
}

// words repeats the flags that were given, for the command that reproduces a run.
func (in *inputs) words(sc *scenarios.Scenario) []string {
	words := []string{"--seed", fmt.Sprint(sc.Seed)}
	if in.sky != "" {
		words = append(words, "--sky", quote(in.sky))
	}
	return words
}
