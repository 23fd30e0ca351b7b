package sweep

import (
	"fmt"
	"regexp"
	"strings"

	"kilter/emulator"
	"kilter/scenarios"
	"kilter/suites/campaign"
)

// Plan is what is to be tried.
type Plan struct {
	Knobs      []*Knob
	Points     []Point
	Controller campaign.Controller
	Stories    []*Story
	// Seeds is how many seeds each story is played with, from its own on.
	Seeds int
}

// Part says what a run is for.
type Part string

// The parts of a sweep: the points of the design, and, of the few that are looked at more closely, seeds that had no part in the
// choice, and other sites.
const (
	OfDesign Part = "design"
	OfSeeds  Part = "fresh seeds"
	OfSites  Part = "sites"
)

// Case is one run and what it is for.
type Case struct {
	Part  Part
	Point int // of the plan; Unvaried for the settings as they stand
	Story int
	Seed  uint64
	Site  int // of the sites that are drawn, from 1; 0 for the site as it stands
	Run   campaign.Run
}

// Unvaried stands for the settings as they stand when nothing is varied.
const Unvaried = -1

// environment and words are the names of settings of a controller.
var environment = regexp.MustCompile(`^[A-Z][A-Z0-9_]*$`)

// isSetting says whether a knob is told to the controller: it is written in capitals, or stands in braces in its words.
func isSetting(c *campaign.Controller, name string) bool {
	return environment.MatchString(name) || strings.Contains(c.Policy+c.Command, "{"+name+"}")
}

// Variables are the knobs that are told in the environment.
func (p *Plan) Variables() (names []string) {
	for _, k := range p.Knobs {
		if environment.MatchString(k.Name) {
			names = append(names, k.Name)
		}
	}
	return names
}

// variant is what a point makes of the controller, and of the scenarios.
func (p *Plan) variant(point Point) (campaign.Controller, []scenarios.Change) {
	c := p.Controller
	c.Settings = nil
	var changes []scenarios.Change
	for k, knob := range p.Knobs {
		if isSetting(&p.Controller, knob.Name) {
			c.Settings = append(c.Settings, campaign.Setting{Name: knob.Name, Value: point[k]})
		} else {
			changes = append(changes, scenarios.Change{Path: knob.Name, Value: point[k]})
		}
	}
	return c, changes
}

// unvaried is the controller without what is varied: without the environment variables and without the flags of a policy that
// come along only to carry a setting, as in --hold {hold}. Its own defaults hold then. False where it cannot be told: a command's
// words are its own.
func (p *Plan) unvaried() (campaign.Controller, bool) {
	c := p.Controller
	c.Settings = nil
	template := c.Policy
	if c.Command != "" {
		template = c.Command
	}
	words, err := emulator.SplitCommand(template)
	if err != nil {
		return c, false
	}
	var kept []string
	varied := false
	for i := 0; i < len(words); i++ {
		switch name, value, joined := strings.Cut(words[i], "="); {
		case !strings.HasPrefix(name, "-"):
			varied = varied || p.fills(words[i])
			kept = append(kept, quoted(words[i]))
		case joined && p.fills(value):
			varied = true
		case !joined && i+1 < len(words) && p.fills(words[i+1]):
			varied = true
			i++
		default:
			kept = append(kept, quoted(words[i]))
		}
	}
	if c.Command != "" {
		return c, !varied
	}
	c.Policy = strings.Join(kept, " ")
	return c, !p.fills(c.Policy)
}

// fills says whether a knob stands in a word.
func (p *Plan) fills(word string) bool {
	for _, k := range p.Knobs {
		if strings.Contains(word, "{"+k.Name+"}") {
			return true
		}
	}
	return false
}

// quoted keeps a word of a command together.
func quoted(word string) string {
	if word != "" && !strings.ContainsAny(word, " \t\n'\"\\") {
		return word
	}
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(word) + `"`
}

// HasUnvaried says whether the settings as they stand are known.
func (p *Plan) HasUnvaried() bool {
	_, is := p.unvaried()
	return is
}

// Cases are the runs of the design, and those of the settings as they stand where these are known. An error names a value that
// does not fit.
func (p *Plan) Cases() ([]Case, error) {
	var list []Case
	if p.HasUnvaried() {
		cases, err := p.cases(OfDesign, Unvaried, 0, p.Seeds)
		if err != nil {
			return nil, err
		}
		list = cases
	}
	for i := range p.Points {
		cases, err := p.cases(OfDesign, i, 0, p.Seeds)
		if err != nil {
			return nil, err
		}
		list = append(list, cases...)
	}
	return list, nil
}

// freshFrom is how far the fresh seeds are from a story's own.
const freshFrom = 1000

// Fresh are runs of a point on seeds that the design did not see.
func (p *Plan) Fresh(point, seeds int) ([]Case, error) {
	return p.cases(OfSeeds, point, freshFrom, seeds)
}

// controllerOf is the controller of a point, and the changes of the scenarios.
func (p *Plan) controllerOf(point int) (campaign.Controller, []scenarios.Change) {
	if point == Unvaried {
		c, _ := p.unvaried()
		return c, nil
	}
	return p.variant(p.Points[point])
}

// cases are the runs of a point, on so many seeds from a distance of the stories' own.
func (p *Plan) cases(part Part, point int, from uint64, seeds int) ([]Case, error) {
	controller, changes := p.controllerOf(point)
	if _, _, err := controller.Filled(); err != nil {
		return nil, err
	}
	var list []Case
	for s := range p.Stories {
		for n := range seeds {
			c := Case{Part: part, Point: point, Story: s, Seed: p.Stories[s].Seed + from + uint64(n)}
			text, err := p.Stories[s].with(c.Seed, changes)
			if err != nil {
				return nil, misfit(err, changes)
			}
			c.Run = campaign.Run{Name: p.Stories[s].Given, Scenario: text, Controller: controller}
			list = append(list, c)
		}
	}
	return list, nil
}

// misfit adds to an error what a name could have been as well.
func misfit(err error, changes []scenarios.Change) error {
	for _, c := range changes {
		if !strings.Contains(c.Path, ".") && strings.Contains(err.Error(), c.Path) {
			return fmt.Errorf("%w; a setting of the controller stands in braces in its words, as {%s}", err, c.Path)
		}
	}
	return err
}

// Setting is the controller at a point, and whether the point varies the scenarios as well.
func (p *Plan) Setting(point int) (c campaign.Controller, changed bool) {
	c, changes := p.controllerOf(point)
	return c, len(changes) > 0
}

// Changed are the stories as a point makes them; nil where it leaves them as they are.
func (p *Plan) Changed(point int) ([]string, error) {
	_, changes := p.controllerOf(point)
	if len(changes) == 0 {
		return nil, nil
	}
	var list []string
	for _, s := range p.Stories {
		text, err := s.with(s.Seed, changes)
		if err != nil {
			return nil, err
		}
		list = append(list, text)
	}
	return list, nil
}
