package campaign

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"regexp"
	"strings"

	"kilter/emulator"
)

// Run is one run of a campaign.
type Run struct {
	// Name is what messages call the scenario, and Scenario its text, resolved so that it needs no other file.
	Name     string `json:"name"`
	Scenario string `json:"scenario"`
	// Controller is put to the test.
	Controller Controller `json:"controller"`
}

// Controller is what is put to the test, in words that any worker understands. One of Policy and Command is set.
type Controller struct {
	// Policy is a controller that comes along: none, steady or wrong/NAME, with arguments of its own behind it.
	Policy string `json:"policy,omitempty"`
	// Command is a program and its arguments. A worker runs it only where it was started with the very same words allowed.
	Command string `json:"command,omitempty"`
	// InLines says that the Command speaks in lines on its standard input and output.
	InLines bool `json:"in_lines,omitempty"`
	// Settings are what the controller is told.
	Settings []Setting `json:"settings,omitempty"`
}

// Setting is one figure or word that a controller is told: in the place of {name} in its words, or, where the name is in
// capitals, as an environment variable.
type Setting struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Key is the run's identity.
func (r *Run) Key() (string, error) {
	text, err := json.Marshal(r)
	if err != nil {
		return "", fmt.Errorf("campaign: %w", err)
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:16]), nil
}

var (
	variable  = regexp.MustCompile(`^[A-Z][A-Z0-9_]*$`)
	parameter = regexp.MustCompile(`^[a-z][a-z0-9_-]*$`)
)

// fixed are the variables that a setting must not touch: they say where programs and the bench are.
var fixed = map[string]bool{"PATH": true, "HOME": true, "LD_PRELOAD": true, "LD_LIBRARY_PATH": true, emulator.BenchVariable: true}

// words are those of the controller's template, split.
func (c *Controller) words() ([]string, error) {
	template := c.Policy
	if c.Command != "" {
		template = c.Command
	}
	return emulator.SplitCommand(template)
}

// Filled returns the controller's words and environment with its settings. Each setting must be wanted: an error names one
// that is not.
func (c *Controller) Filled() (words, environment []string, err error) {
	if (c.Policy == "") == (c.Command == "") {
		return nil, nil, fmt.Errorf("a controller is either one that comes along or a command; found %q and %q", c.Policy, c.Command)
	}
	if words, err = c.words(); err != nil {
		return nil, nil, err
	}
	for _, s := range c.Settings {
		if strings.ContainsRune(s.Value, 0) {
			return nil, nil, fmt.Errorf("the setting %s: found a value with a zero byte", s.Name)
		}
		switch {
		case fixed[s.Name]:
			return nil, nil, fmt.Errorf("the setting %s: a campaign must not set it", s.Name)
		case variable.MatchString(s.Name):
			environment = append(environment, s.Name+"="+s.Value)
		case parameter.MatchString(s.Name):
			wanted := false
			for i, w := range words[1:] {
				filled := strings.ReplaceAll(w, "{"+s.Name+"}", s.Value)
				wanted = wanted || filled != w
				words[i+1] = filled
			}
			if !wanted {
				return nil, nil, fmt.Errorf("the setting %s: {%[1]s} stands nowhere among the controller's arguments, %q", s.Name, strings.Join(words[1:], " "))
			}
		default:
			return nil, nil, fmt.Errorf("the setting %q: want a name of small letters that stands in braces among the controller's arguments, or one in capitals for an environment variable", s.Name)
		}
	}
	return words, environment, nil
}
