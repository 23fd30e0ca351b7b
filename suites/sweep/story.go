package sweep

import (
	"fmt"
	"strconv"
	"time"

	"kilter/scenarios"
	"kilter/suites"
)

// Story is a scenario whose places can be given other values.
type Story struct {
	Given string // as it was asked for: a built-in name or a file
	Name  string // the scenario's own
	Seed  uint64
	form  *scenarios.Form
	site  *scenarios.Site
	step  time.Duration
	text  map[string]string // by seed and changes
}

// NewStory makes a story of a scenario that was asked for by a name or a file.
func NewStory(given string, sc *scenarios.Scenario) (*Story, error) {
	form, err := scenarios.NewForm(sc)
	return &Story{Given: given, Name: sc.Name, Seed: sc.Seed, form: form, site: sc.Site, step: sc.Step, text: map[string]string{}}, err
}

// with is the story's text with a seed and changes.
func (s *Story) with(seed uint64, changes []scenarios.Change) (string, error) {
	all := append([]scenarios.Change{{Path: "seed", Value: strconv.FormatUint(seed, 10)}}, changes...)
	key := fmt.Sprint(all)
	if text, is := s.text[key]; is {
		return text, nil
	}
	text, err := s.form.Text(all...)
	if err != nil {
		return "", err
	}
	if seed == s.Seed { // another seed changes nothing about whether it fits
		sc, err := s.form.With(all...)
		if err != nil {
			return "", err
		}
		if err := suites.Check(sc); err != nil {
			return "", err
		}
	}
	s.text[key] = string(text)
	return s.text[key], nil
}
