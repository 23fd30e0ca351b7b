package sweep

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"strconv"
	"time"

	"kilter/scenarios"
	"kilter/suites/campaign"
	"kilter/suites/search"
)

// figures are what differs of an inverter from one site to the next; those of a group move by one factor, as its ratings do.
var figures = [][]string{
	{"battery.capacity"},
	{"rating", "battery.max_charge", "battery.max_discharge"},
	{"ramp_up", "ramp_down"},
	{"lag"},
}

// SitesVary says in words what differs from site to site.
const SitesVary = "each battery's capacity, each inverter's rating with its battery's limits, its ramps and its lag by up to %s, and each meter's latency by one step of the simulation"

// Sites are runs of a point on other sites: n of a Latin hypercube within a spread of each story's own, such as 0.2 for 20 % less to 20 %
// more. The same site is drawn for the same number, whichever point is asked for. Those that cannot be built are told
// apart, with why.
func (p *Plan) Sites(point, n int, spread float64) (cases []Case, unbuilt []string, err error) {
	controller, changes := p.controllerOf(point)
	for s, story := range p.Stories {
		drawn, err := story.sites(n, spread)
		if err != nil {
			return nil, nil, err
		}
		for i, other := range drawn {
			// What is varied has the last word.
			text, err := story.with(story.Seed, append(other, changes...))
			if err != nil {
				unbuilt = append(unbuilt, fmt.Sprintf("%s, site %d: %v", story.Name, i+1, err))
				continue
			}
			cases = append(cases, Case{Part: OfSites, Point: point, Story: s, Seed: story.Seed, Site: i + 1,
				Run: campaign.Run{Name: story.Given, Scenario: text, Controller: controller}})
		}
	}
	return cases, unbuilt, nil
}

// dimension is what one coordinate of a site moves.
type dimension struct {
	paths []string
	meter bool
}

// sites draws other sites.
func (s *Story) sites(n int, spread float64) ([][]scenarios.Change, error) {
	var dims []dimension
	for _, d := range s.site.Devices {
		switch d.Kind {
		case scenarios.Inverter:
			for _, group := range figures {
				var paths []string
				for _, figure := range group {
					paths = append(paths, d.Name+"."+figure)
				}
				dims = append(dims, dimension{paths: paths})
			}
		case scenarios.Meter:
			dims = append(dims, dimension{[]string{d.Name + ".latency"}, true})
		}
	}
	cube := search.LatinHypercube(rand.New(rand.NewPCG(2, 2)), n, len(dims))
	list := make([][]scenarios.Change, n)
	for i, x := range cube {
		for k, d := range dims {
			for _, path := range d.paths {
				c, is, err := s.moved(path, x[k], spread, d.meter)
				if err != nil {
					return nil, err
				}
				if is {
					list[i] = append(list[i], c)
				}
			}
		}
	}
	return list, nil
}

// moved gives a figure another value by a coordinate from 0 to 1; false where the site does not say it.
func (s *Story) moved(path string, x, spread float64, meter bool) (scenarios.Change, bool, error) {
	text, is := s.form.At(path)
	m := quantity.FindStringSubmatch(text)
	if !is || m == nil {
		return scenarios.Change{}, false, nil
	}
	if meter {
		old, err := time.ParseDuration(m[1] + cmp.Or(m[3], "s"))
		if err != nil {
			return scenarios.Change{}, false, fmt.Errorf("%s: found %s, which is no time", path, text)
		}
		moved := max(0, old+s.step*time.Duration(math.Floor(3*x)-1))
		return scenarios.Change{Path: path, Value: fmt.Sprintf("%d ms", moved.Milliseconds())}, true, nil
	}
	v, err := strconv.ParseFloat(m[1], 64)
	if err != nil {
		return scenarios.Change{}, false, fmt.Errorf("%s: found %s, which is no figure", path, text)
	}
	figure := strconv.FormatFloat(v*(1+spread*(2*x-1)), 'g', 4, 64)
	if v, err = strconv.ParseFloat(figure, 64); err != nil {
		return scenarios.Change{}, false, err
	}
	return scenarios.Change{Path: path, Value: strconv.FormatFloat(v, 'f', -1, 64) + m[2] + m[3]}, true, nil
}
