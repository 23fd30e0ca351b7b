package scenarios

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// longest is the longest run: somewhat more than a year.
const longest = 400 * 24 * time.Hour

// buildScenario checks a scenario file and makes the Scenario.
func buildScenario(f *scenarioFile, name string, out *findings) (*Scenario, error) {
	s := &Scenario{
		Name: name, Title: f.Scenario.s, Story: f.Story.s, Source: f.At.file,
		Lasts: seconds(f.Lasts.v), Seed: f.Seed.v, Step: seconds(f.Step.v),
	}
	if f.Name.set {
		s.Name = f.Name.s
	}
	if s.Step%time.Millisecond != 0 {
		out.add(f.Step.at, shownAs("time", f.Step.v), "a whole number of milliseconds", "")
		return nil, out.err()
	}
	if !wholeSteps(f.Lasts.v, s.Step) || s.Lasts < s.Step || s.Lasts > longest {
		out.add(f.Lasts.at, shownAs("time", f.Lasts.v), "a multiple of the step of "+shownAs("time", f.Step.v)+", at most 9600 h", "")
		return nil, out.err()
	}
	s.Starts, s.Zone = out.start(f.Starts, f.Zone)
	c := &calendar{findings: out, starts: s.Starts, lasts: s.Lasts, step: s.Step}
	site, err := scenarioSite(f, c)
	if err != nil {
		return nil, err
	}
	if err := out.err(); err != nil {
		return nil, err
	}
	s.Site = site
	site.Plant.Seed = s.Seed
	site.Plant.Sky.StartUnixS = s.Starts.Unix()

	s.ImportWanted, s.ExportWanted, s.Cheap = c.windows(f.ImportWanted), c.windows(f.ExportWanted), c.windows(f.Cheap)
	s.Prices = c.prices(f.Prices)
	s.Commands = commands(f.Commands, site, out)
	e := &eventBuilder{calendar: c, site: site}
	for _, one := range f.Happens {
		e.event(one)
	}
	slices.SortStableFunc(e.events, func(a, b Event) int { return int(min(max(a.At-b.At, -1), 1)) })
	e.unfold()
	e.rehearse()
	s.Events = e.events
	s.Must = (&mustBuilder{calendar: c, site: site, cheap: s.Cheap}).must(f)
	if err := out.err(); err != nil {
		return nil, err
	}
	if err := site.playable(f.Site.At); err != nil {
		return nil, err
	}
	return s.underSky(f.Sky, out)
}

// scenarioSite finds the scenario's site and lays it on the scenario's run.
func scenarioSite(f *scenarioFile, c *calendar) (*Site, error) {
	ref := f.Site
	if !ref.Named.set {
		return buildSite(&siteFile{At: ref.At, Site: ref.Site, Title: ref.Title, Place: ref.Place, Air: ref.Air, Supply: ref.Supply}, c), nil
	}
	file, err := siteNamed(ref.Named, c.findings, nil)
	if err != nil {
		return nil, err
	}
	return buildSite(file, c), nil
}

// underSky gives the scenario its measured sky, if it names one.
func (s *Scenario) underSky(f *skyFile, out *findings) (*Scenario, error) {
	switch {
	case f == nil:
		return s, nil
	case f.File.set == (len(f.Measured) > 0):
		return nil, fault(f.At, "a sky with both or neither of file and measured", "one of the two", "")
	case f.File.set:
		file, err := besideFile(f.File, "irradiance")
		if err != nil {
			return nil, err
		}
		return s.WithSkyFile(file)
	}
	points := skyPoints(f.Measured, out)
	if err := out.err(); err != nil {
		return nil, err
	}
	return s.WithSky(points), nil
}

// commands finds the devices that the controller may command.
func commands(names list[text], site *Site, out *findings) []string {
	var able []string
	for _, d := range site.Devices {
		if d.Wire != nil && (d.Kind == Inverter || d.Kind == Charger) {
			able = append(able, d.Name)
		}
	}
	var list []string
	for _, n := range names {
		switch d, known := site.Find(n.s); {
		case slices.Contains(list, n.s):
			out.add(n.at, n.s+" again", "each device once", "")
		case slices.Contains(able, n.s):
			list = append(list, n.s)
		case known && d.Wire == nil:
			out.add(n.at, n.s+", which is not on the wire", "one of "+strings.Join(able, ", "), "give it a wire in the site file")
		case known:
			out.add(n.at, n.s+", which is a "+d.Kind.String(), "an inverter or a charger on the wire", "")
		default:
			wanted, hint := unknownWord(n.s, able)
			out.add(n.at, "the unknown device "+quoted(n.s), wanted, hint)
		}
	}
	if names != nil {
		return list
	}
	for _, d := range site.Devices {
		if d.Wire != nil && d.Kind == Inverter {
			list = append(list, d.Name)
		}
	}
	return list
}

// article puts a word into a sentence.
func article(word string) string {
	if word != "" && strings.ContainsRune("aeiou", rune(word[0])) {
		return "an " + word
	}
	return fmt.Sprintf("a %s", word)
}
