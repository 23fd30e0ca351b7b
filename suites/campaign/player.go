package campaign

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"kilter/emulator"
	"kilter/suites"
)

// Player plays runs in this process.
type Player struct {
	// Self is the program that has the controllers that come along: its first word is this one, and steady and wrong are its commands.
	Self []string
	// Allowed are the commands that may be run, word for word as a Controller has them, before its settings are filled in.
	Allowed []string
	// Own says that all runs are this program's own: they may name files of this machine, such as a register map, and set any
	// variable. Of runs that were sent, only the Variables may be set.
	Own       bool
	Variables []string
	// Limits are what a controller may use; zero takes the bench's own.
	Limits emulator.Limits

	scenarios recent
}

// Play plays a run. An error says that it cannot be played at all; a controller that dies is a result.
func (p *Player) Play(ctx context.Context, r *Run) (*Result, error) {
	controller, err := p.Starts(&r.Controller)
	if err != nil {
		return nil, err
	}
	sc, err := p.scenarios.find(r.Name, r.Scenario, p.parse)
	if err != nil {
		return nil, err
	}
	out, err := suites.Play(ctx, sc, suites.Options{Pace: emulator.Stepped, Controller: controller, Limits: p.Limits})
	if err != nil {
		return nil, err
	}
	result := &Result{Passed: out.Run.Passed, Trace: out.Run.TraceSHA256, Findings: findings(out.Run.Criteria)}
	raise(result.Findings, &sc.Must)
	if e := out.Run.Error; e != nil {
		result.FaultKind, result.Fault = e.Kind, e.Detail
	}
	if w, hours := out.Run.Wire, sc.Lasts.Hours(); w != nil && hours > 0 {
		result.WritesPerHour, result.ReadsPerHour = float64(w.Writes)/hours, float64(w.Reads)/hours
	}
	return result, nil
}

// Starts is what the bench starts for a controller's words.
func (p *Player) Starts(c *Controller) (suites.Controller, error) {
	if err := p.permit(c); err != nil {
		return suites.Controller{}, err
	}
	words, environment, err := c.Filled()
	if err != nil {
		return suites.Controller{}, err
	}
	if c.Command != "" {
		return suites.Controller{Name: c.Command, Command: words, Settings: environment, InLines: c.InLines}, nil
	}
	named := suites.Controller{Name: c.Policy, Settings: environment}
	fault, isWrong := strings.CutPrefix(words[0], "wrong/")
	switch {
	case words[0] == "none" && len(words) == 1:
		named.Settings = nil
	case words[0] == "steady":
		named.Command = append(append(slices.Clone(p.Self), "steady"), words[1:]...)
	case isWrong:
		named.Command = append(append(slices.Clone(p.Self), "wrong", fault), words[1:]...)
	default:
		return suites.Controller{}, fmt.Errorf("found the policy %q, want none, steady or wrong/NAME, with arguments of its own behind it", c.Policy)
	}
	return named, nil
}

// Needs is what a worker must be to play runs with this controller: of the same build, since another's plant may differ,
// for the same processor, and allowed to run the command.
func Needs(c *Controller) string {
	if c.Command == "" {
		return "the build " + Build()
	}
	return "the build " + Build() + " with the command '" + c.Command + "'"
}

// Offers are the needs that this player meets.
func (p *Player) Offers() []string {
	offers := []string{Needs(&Controller{})}
	for _, command := range p.Allowed {
		offers = append(offers, Needs(&Controller{Command: command}))
	}
	return offers
}

// Work is Play for a queue's worker.
func (p *Player) Work(ctx context.Context, body []byte) ([]byte, error) {
	var r Run
	if err := json.Unmarshal(body, &r); err != nil {
		return nil, unreadable(err)
	}
	result, err := p.Play(ctx, &r)
	if err != nil {
		return nil, err
	}
	return json.Marshal(result)
}

func unreadable(why error) error { return fmt.Errorf("campaign: a run that cannot be read: %w", why) }
