package main

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"kilter/suites/sweep"
)

// conclude scores the settings, and looks more closely at the recommended one and at those that stand.
func (s *sweeper) conclude(cmd *cobra.Command, goals []sweep.Goal) (*sweep.Summary, error) {
	p := &s.plan
	scores := p.Scores(s.cases, s.results, goals)
	m := &sweep.Summary{Tool: sweep.Tool, Format: 1, Controller: p.Controller.Policy + p.Controller.Command, Seeds: p.Seeds,
		Design: sweep.Design(s.design), Goals: goals, Points: len(p.Points), Front: sweep.Front(scores, goals)}
	for _, story := range p.Stories {
		m.Stories = append(m.Stories, story.Name)
	}
	for _, k := range p.Knobs {
		m.Knobs = append(m.Knobs, k.Varied())
	}
	for i := range scores {
		if scores[i].Passed() {
			m.Passing++
		}
	}
	best, is := sweep.Recommend(m.Front, goals)
	if !is { // nothing passes, or a goal was never judged
		best, _ = sweep.Safest(scores)
	}
	looked := []int{best.Point}
	if p.HasUnvaried() {
		looked = append(looked, sweep.Unvaried)
	}
	var more []sweep.Case
	if s.sites > 0 {
		m.Spread = float64(s.spread)
	}
	for i, point := range looked {
		fresh, err := p.Fresh(point, s.fresh)
		if err != nil {
			return nil, err
		}
		sites, unbuilt, err := p.Sites(point, s.sites, float64(s.spread))
		if err != nil {
			return nil, err
		}
		more = append(append(more, fresh...), sites...)
		if i == 0 {
			m.Unbuilt = unbuilt
		}
	}
	if err := s.play(cmd, more); err != nil {
		return nil, err
	}
	m.Runs = len(s.cases)
	var err error
	for i, point := range looked {
		score := best
		if i > 0 {
			score = p.ScoreOf(point, s.cases[:len(s.cases)-len(more)], s.results, goals)
		}
		look := p.LookAt(score, s.cases, s.results, goals)
		if look.Command, err = s.command(point); err != nil {
			return nil, err
		}
		if i == 0 {
			m.Recommended = look
		} else {
			m.AsItStands = look
		}
	}
	return m, nil
}

// command plays a setting again. Places of the scenario that are varied need a file, which write puts into the folder.
func (s *sweeper) command(point int) (string, error) {
	controller, changed := s.plan.Setting(point)
	var scenarios []string
	for _, story := range s.plan.Stories {
		if changed {
			scenarios = append(scenarios, s.file(storyFile(story)))
		} else {
			scenarios = append(scenarios, story.Given)
		}
	}
	line, err := checkLine(&controller, scenarios...)
	if err != nil {
		return "", err
	}
	if s.plan.Seeds > 1 {
		line = append(line, "--seeds", fmt.Sprint(s.plan.Seeds))
	}
	if s.input.set("seed") && !changed {
		line = append(line, "--seed", fmt.Sprint(s.input.seed))
	}
	if s.input.sky != "" && !changed {
		line = append(line, "--sky", quote(s.input.sky))
	}
	return strings.Join(line, " "), nil
}
