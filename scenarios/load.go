package scenarios

import (
	"path"
	"path/filepath"
	"reflect"
	"slices"
	"strings"

	"kilter/physics"
)

// maxVariants bounds how many sites may each vary the next.
const maxVariants = 8

// LoadScenario reads a scenario from a file. Its site is built-in, a file
// relative to it, or written out in it.
func LoadScenario(path string) (*Scenario, error) {
	data, err := readFile(path, scenarioOrSite)
	if err != nil {
		return nil, err
	}
	return ParseScenario(path, data)
}

// LoadWithMust reads a scenario from a file, with what must hold by another one: a whole scenario, of which that is
// taken alone, or nothing but it.
func LoadWithMust(path, limits string) (*Scenario, error) {
	data, err := readFile(limits, "a file of limits, or a scenario with them")
	if err != nil {
		return nil, err
	}
	out := &findings{}
	other, alone := &scenarioFile{}, &mustAloneFile{}
	if isScenario(data) {
		err = readInto(other, limits, data, out)
	} else {
		err = readInto(alone, limits, data, out)
		other.Must = alone.Must
	}
	if err != nil {
		return nil, err
	}
	if data, err = readFile(path, scenarioOrSite); err != nil {
		return nil, err
	}
	f := &scenarioFile{}
	if err := readInto(f, path, data, out); err != nil {
		return nil, err
	}
	f.Must = other.Must
	return buildScenario(f, slug(path), out)
}

// isScenario says whether a text begins to tell a story, as opposed to limits alone.
func isScenario(data []byte) bool {
	return slices.ContainsFunc(strings.Split(string(data), "\n"), func(line string) bool { return strings.HasPrefix(line, "scenario:") })
}

// LoadSite reads a site from a file.
func LoadSite(path string) (*Site, error) {
	data, err := readFile(path, scenarioOrSite)
	if err != nil {
		return nil, err
	}
	return parseSite(path, data)
}

// Find reads the built-in scenario of that name, or else the file.
func Find(nameOrPath string) (*Scenario, error) {
	if slices.Contains(BuiltinNames(), nameOrPath) || isName(nameOrPath) && !exists(nameOrPath) {
		return Builtin(nameOrPath)
	}
	return LoadScenario(nameOrPath)
}

func parseSite(file string, data []byte) (*Site, error) {
	out := &findings{}
	f, err := readSite(file, data, out, nil)
	if err != nil {
		return nil, err
	}
	site := buildSite(f, aloneDay(DefaultStep, out))
	if err := out.err(); err != nil {
		return nil, err
	}
	if err := site.playable(f.At); err != nil {
		return nil, err
	}
	return site, nil
}

// playable says why no plant can be made of a site. What is checked field by field
// has a line of its own; this is the net under it, so that what loads can be played.
func (s *Site) playable(at spot) error {
	if _, err := physics.New(s.Plant); err != nil {
		first, _, _ := strings.Cut(err.Error(), "\n")
		return fault(at, "a site of which no plant can be made", "figures that fit together", first)
	}
	return nil
}

// ParseScenario reads a scenario that stands in memory; file is what messages call it, and where what it names is
// relative to.
func ParseScenario(file string, data []byte) (*Scenario, error) {
	f := &scenarioFile{}
	out := &findings{}
	if err := readInto(f, file, data, out); err != nil {
		return nil, err
	}
	return buildScenario(f, slug(file), out)
}

// ParseSent reads a scenario that came from elsewhere, and may be of anybody: one that names a file of this machine is refused.
func ParseSent(name string, data []byte) (*Scenario, error) {
	return ParseScenario(sentMark+name, data)
}

// slug is a file's base name without its extension.
func slug(file string) string {
	base := path.Base(filepath.ToSlash(strings.TrimPrefix(strings.TrimPrefix(file, builtinMark), sentMark)))
	return strings.TrimSuffix(base, path.Ext(base))
}

// readInto fills a file type from text. The format's version is looked at
// first: a file of another version means other things by the same words.
func readInto(f any, file string, data []byte, out *findings) error {
	root, err := parse(file, data)
	if err != nil {
		return err
	}
	if err := checkVersion(file, root); err != nil {
		return err
	}
	r := &reader{file: file, findings: out}
	r.mapping(reflect.ValueOf(f).Elem(), root, spot{file: file, line: 1, col: 1})
	return out.err()
}

// readSite reads a site file and applies it to the site that it varies, if any.
// The visited files are those that led here.
func readSite(file string, data []byte, out *findings, visited []string) (*siteFile, error) {
	f := &siteFile{}
	if err := readInto(f, file, data, out); err != nil {
		return nil, err
	}
	if !f.BasedOn.set {
		if len(f.Move) > 0 {
			return nil, fault(f.Move[0].At, "move without based_on", "the name of the site that this one varies", "based_on: bakery")
		}
		return f, nil
	}
	visited = append(visited, file)
	if f.Supply != nil {
		return nil, fault(f.Supply.At, "supply beside based_on", "one of the two", "a variant takes its supply from the site that it varies")
	}
	base, err := siteNamed(f.BasedOn, out, visited)
	if err != nil {
		return nil, err
	}
	if base.Supply != nil {
		applyMoves(base, f.Move, out)
	}
	base.At, base.Site = f.At, f.Site
	if f.Title.set {
		base.Title = f.Title
	}
	if f.Place != nil {
		base.Place = f.Place
	}
	if f.Air != nil {
		base.Air = f.Air
	}
	return base, out.err()
}

// siteNamed reads the site that a file names: a built-in one, or a file relative
// to the one that names it.
func siteNamed(name text, out *findings, visited []string) (*siteFile, error) {
	from := name.at.file
	file, data, err := siteText(name, from)
	if err != nil {
		return nil, err
	}
	if slices.Contains(visited, file) {
		return nil, fault(name.at, "a site that varies itself: "+strings.Join(append(visited, file), " -> "), "a site that stands on its own at the end", "")
	}
	if len(visited) >= maxVariants {
		return nil, fault(name.at, "a long row of variants", "at most 8", "")
	}
	return readSite(file, data, out, visited)
}

func siteText(name text, from string) (file string, data []byte, err error) {
	if slices.Contains(BuiltinSites(), name.s) {
		file = builtinSiteFile(name.s)
		return file, builtinText(file), nil
	}
	if !strings.Contains(name.s, "/") && filepath.Ext(name.s) == "" || !namesFiles(from) {
		wanted, hint := unknownWord(name.s, BuiltinSites())
		return "", nil, fault(name.at, "the unknown site "+quoted(name.s), wanted+", or the path of a site file", hint)
	}
	file = name.s
	if !filepath.IsAbs(file) {
		file = filepath.Join(filepath.Dir(from), file)
	}
	data, err = readFile(file, scenarioOrSite)
	if err != nil {
		return "", nil, fault(name.at, "the site file "+quoted(file)+", which cannot be read", "a site file", "it is looked for relative to this file")
	}
	return file, data, nil
}
