package campaign

import (
	"fmt"
	"slices"
	"strings"

	"kilter/scenarios"
)

// Whoever may put jobs into a queue can have its workers simulate. What follows keeps it at that.

// permit says why a controller must not be run. A command must be allowed word for word, before its settings are filled in. A run that
// was sent may set only variables that are allowed, since some make an interpreter run what they hold, and must not give a
// controller that comes along another bench than the one that it is to be judged on.
func (p *Player) permit(c *Controller) error {
	if c.Command != "" && !slices.Contains(p.Allowed, c.Command) {
		return fmt.Errorf("the command %q is not allowed here", c.Command)
	}
	if p.Own {
		return nil
	}
	for _, s := range c.Settings {
		if variable.MatchString(s.Name) && !slices.Contains(p.Variables, s.Name) {
			return fmt.Errorf("the variable %s is not allowed here", s.Name)
		}
	}
	words, _, err := c.Filled()
	if err != nil {
		return err
	}
	for _, w := range words {
		if name := strings.TrimLeft(w, "-"); c.Policy != "" && (name == "bench" || strings.HasPrefix(name, "bench=")) {
			return fmt.Errorf("the argument %q is not allowed: the bench is the run's own", w)
		}
	}
	return nil
}

// parse reads a run's scenario.
func (p *Player) parse(name, text string) (*scenarios.Scenario, error) {
	if p.Own {
		return scenarios.ParseScenario(name, []byte(text))
	}
	return scenarios.ParseSent(name, []byte(text))
}
