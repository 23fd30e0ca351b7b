package fieldlog

import (
	"errors"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/goccy/go-yaml"
)

// Map says which column of a log is what.
type Map struct {
	Confirmed bool // by people: a proposed map is not used
	Time      TimeMap
	Grid      []Part // their sum is the flow through the inlet, import positive
	Load      []Part // all consumption but the inverters', drawing positive
	Solar     []Part // PV, drawing positive, so that what it gives is negative
	Units     []UnitMap
}

// TimeMap says where the moments are.
type TimeMap struct {
	Column string
	Clock  string // a second column with the time of day, where the first has the date alone
	Form   Form
	Zone   string
}

// Part is one column that adds to a quantity.
type Part struct {
	Column   string
	Unit     string
	Positive string        // what a positive value means
	Late     time.Duration // the column's clock is behind by this
}

// UnitMap says what was logged of one inverter.
type UnitMap struct {
	Name    string
	Power   []Part // AC, charging positive
	SOC     []Part
	Command []Part // what it was told, charging positive
}

// mapFile is the file's form.
type mapFile struct {
	Confirmed string     `yaml:"confirmed"`
	Time      timeFile   `yaml:"time"`
	Grid      []partFile `yaml:"grid"`
	Load      []partFile `yaml:"load"`
	Solar     []partFile `yaml:"solar"`
	Inverters []unitFile `yaml:"inverters"`
}

type timeFile struct {
	Column string `yaml:"column"`
	Clock  string `yaml:"clock"`
	Form   string `yaml:"form"`
	Zone   string `yaml:"zone"`
}

type partFile struct {
	Column   string `yaml:"column"`
	Unit     string `yaml:"unit"`
	Positive string `yaml:"positive"`
	Late     string `yaml:"late"`
}

type unitFile struct {
	Name    string     `yaml:"name"`
	Power   []partFile `yaml:"power"`
	SOC     []partFile `yaml:"soc"`
	Command []partFile `yaml:"command"`
}

// signWords say what a positive value of each quantity may mean, and the factor into the load convention.
var signWords = map[string]map[string]float64{
	"grid":    {"import": 1, "export": -1},
	"load":    {"drawing": 1, "giving": -1},
	"solar":   {"giving": -1, "drawing": 1},
	"power":   {"charging": 1, "discharging": -1},
	"command": {"charging": 1, "discharging": -1},
	"soc":     {"": 1},
}

// ReadMap reads a column map.
func ReadMap(file string) (*Map, error) {
	text, err := os.ReadFile(file)
	if err != nil {
		return nil, bad(file, 0, "", "no file that can be read", "a column map", "kilter learn writes one to start from")
	}
	return ParseMap(file, text)
}

// ParseMap reads a column map from text.
func ParseMap(file string, text []byte) (*Map, error) {
	var f mapFile
	if err := yaml.UnmarshalWithOptions(text, &f, yaml.Strict()); err != nil {
		line := 0
		var at yaml.Error
		if errors.As(err, &at) && at.GetToken() != nil {
			line = at.GetToken().Position.Line
		}
		first, _, _ := strings.Cut(yaml.FormatError(err, false, false), "\n")
		return nil, bad(file, line, "", first, "a column map", "its keys are confirmed, time, grid, load, solar and inverters")
	}
	r := mapReader{file: file}
	m := &Map{
		Confirmed: f.Confirmed == "yes",
		Time:      TimeMap{Column: f.Time.Column, Clock: f.Time.Clock, Form: Form(f.Time.Form), Zone: f.Time.Zone},
		Grid:      r.parts("grid", f.Grid), Load: r.parts("load", f.Load), Solar: r.parts("solar", f.Solar),
	}
	if f.Confirmed != "yes" && f.Confirmed != "no" {
		r.fault("confirmed", strconv.Quote(f.Confirmed), "yes or no")
	}
	if m.Time.Zone == "" {
		m.Time.Zone = "UTC"
	}
	if m.Time.Column == "" {
		r.fault("time", "no column", "the name of a column")
	}
	if !slices.Contains(forms, m.Time.Form) {
		r.fault("time.form", strconv.Quote(f.Time.Form), "one of "+wordList(forms))
	}
	if len(m.Grid) == 0 {
		r.fault("grid", "nothing", "at least one column")
	}
	if len(f.Inverters) == 0 {
		r.fault("inverters", "none", "at least one")
	}
	for i, u := range f.Inverters {
		at := fmt.Sprintf("inverters[%d].", i+1)
		if !isName(u.Name) {
			r.fault(at+"name", strconv.Quote(u.Name), "a name of small letters, digits and _")
		}
		if len(u.Power) == 0 {
			r.fault(at+"power", "nothing", "at least one column")
		}
		m.Units = append(m.Units, UnitMap{
			Name: u.Name, Power: r.parts(at+"power", u.Power), SOC: r.parts(at+"soc", u.SOC), Command: r.parts(at+"command", u.Command),
		})
	}
	return m, errors.Join(r.faults...)
}

type mapReader struct {
	file   string
	faults []error
}

func (r *mapReader) fault(field, found, wanted string) {
	r.faults = append(r.faults, bad(r.file, 0, field, found, wanted, ""))
}

func (r *mapReader) parts(field string, files []partFile) []Part {
	kind := field[strings.LastIndexByte(field, '.')+1:]
	var list []Part
	for i, f := range files {
		at := fmt.Sprintf("%s[%d]", field, i+1)
		p := Part{Column: f.Column, Unit: f.Unit, Positive: f.Positive}
		if f.Column == "" {
			r.fault(at, "no column", "the name of a column")
		}
		u, is := unitWords[strings.ToLower(f.Unit)]
		if fits := is && (kind == "soc") == (u.unit == "%" || u.unit == "1"); !fits {
			wanted := "W, kW, MW, or Wh, kWh, MWh for a counter"
			if kind == "soc" {
				wanted = "% or 1"
			}
			r.fault(at+".unit", strconv.Quote(f.Unit), wanted)
		}
		if _, is := signWords[kind][f.Positive]; !is {
			var words []string
			for w := range signWords[kind] {
				words = append(words, w)
			}
			slices.Sort(words)
			r.fault(at+".positive", strconv.Quote(f.Positive), strings.Join(words, " or "))
		}
		if f.Late != "" {
			d, err := time.ParseDuration(strings.ReplaceAll(f.Late, " ", ""))
			if err != nil || d.Abs() > time.Hour {
				r.fault(at+".late", strconv.Quote(f.Late), "a time such as 7 s or -500 ms")
			}
			p.Late = d
		}
		list = append(list, p)
	}
	return list
}

func isName(s string) bool {
	return s != "" && s[0] >= 'a' && s[0] <= 'z' && strings.Trim(s, "abcdefghijklmnopqrstuvwxyz0123456789_") == ""
}

func wordList[T ~string](words []T) string {
	var list []string
	for _, w := range words {
		list = append(list, string(w))
	}
	return strings.Join(list, ", ")
}
