package falsify

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"kilter/suites/campaign"
	"kilter/suites/verdict"
)

// Format is the version of falsify.json.
const Format = 1

// File is the content of falsify.json.
type File struct {
	Tool       string              `json:"tool"`
	Format     int                 `json:"format"`
	Scenario   string              `json:"scenario"`
	Within     string              `json:"within"`
	Controller campaign.Controller `json:"controller"`
	Criterion  string              `json:"criterion,omitempty"`
	Method     Method              `json:"method"`
	Seed       uint64              `json:"seed"`
	Budget     int                 `json:"budget"`
	Runs       int                 `json:"runs"`
	Restarts   int                 `json:"restarts"`
	Unjudged   int                 `json:"unjudged"`
	// Unavoidable is in how many cases a criterion failed that nothing could have prevented.
	Unavoidable int        `json:"unavoidable"`
	Interrupted bool       `json:"interrupted,omitempty"`
	Cases       []FileCase `json:"counterexamples"`
	Least       *FileTrial `json:"least,omitempty"`
	Says        []string   `json:"says"`
	Coverage    Coverage   `json:"coverage"`
}

// FileCase is a counterexample in falsify.json.
type FileCase struct {
	Criterion string           `json:"criterion"`
	Run       int              `json:"run"`
	Scenario  string           `json:"scenario"` // its file, beside this one
	Again     bool             `json:"fails_again"`
	Shrinking int              `json:"runs_to_shrink"`
	Finding   campaign.Finding `json:"finding"`
	Needs     []Need           `json:"needs"`
}

// FileTrial is the case of the least share.
type FileTrial struct {
	Run    int            `json:"run"`
	Share  verdict.Number `json:"share"`
	Clause string         `json:"clause"`
	Values []Need         `json:"values"`
}

// Need is a parameter that a case depends on.
type Need struct {
	Name  string `json:"name"`
	Value string `json:"value"`
	Plain string `json:"plain,omitempty"` // what disturbs nothing
	About string `json:"about,omitempty"`
}

// Needs are the parameters that a case depends on, with their values.
func (p *Problem) Needs(x []float64) []Need {
	var list []Need
	values, matters := p.Within.Values(x), p.Within.Matters(x)
	for k := range p.Within.Parameters {
		q := &p.Within.Parameters[k]
		if !matters[k] {
			continue
		}
		n := Need{Name: q.Name, Value: values[k], About: q.About}
		if u, is := q.Plain(); is {
			n.Plain = q.Value(u)
		}
		list = append(list, n)
	}
	return list
}

// File returns the content of falsify.json.
func (h *Hunt) File(scenario string) *File {
	f := &File{
		Tool: verdict.Tool, Format: Format, Scenario: scenario, Within: h.Problem.Within.Name, Controller: h.Problem.Controller, Criterion: h.Problem.Criterion,
		Method: h.Method, Seed: h.Seed, Budget: h.Budget, Runs: len(h.Trials), Restarts: h.Restarts, Cases: []FileCase{}, Says: h.Says(), Coverage: h.Coverage(),
	}
	f.Unjudged, _ = h.Unjudged()
	for i := range h.Trials {
		f.Unavoidable += min(1, len(h.Trials[i].Unavoidable))
	}
	for i, c := range h.Cases {
		f.Cases = append(f.Cases, FileCase{c.Criterion, c.Run, CaseFile(i), c.Again, c.Runs, c.Finding, h.Problem.Needs(c.X)})
	}
	if t := h.Least(); t != nil {
		f.Least = &FileTrial{t.Run, verdict.Of(t.Share), t.Clause, h.Problem.Needs(t.X)}
	}
	return f
}

// CaseFile is the name of the file of a counterexample, counted from 0.
func CaseFile(i int) string { return fmt.Sprintf("counterexample-%d.yaml", i+1) }

// Write writes falsify.json.
func (f *File) Write(w io.Writer) error {
	text, err := json.MarshalIndent(f, "", "  ")
	if err != nil {
		return fmt.Errorf("falsify.json: %w", err)
	}
	_, err = w.Write(append(text, '\n'))
	return err
}

// WriteRuns writes a line a case: its share, what it is of, the parameters' values, and the share of each clause.
func (h *Hunt) WriteRuns(w io.Writer) error {
	out := csv.NewWriter(w)
	clauses := h.clauses()
	head := []string{"run", "share", "of", "error"}
	for k := range h.Problem.Within.Parameters {
		head = append(head, h.Problem.Within.Parameters[k].Name)
	}
	if err := out.Write(append(head, clauses...)); err != nil {
		return err
	}
	for i := range h.Trials {
		t := &h.Trials[i]
		line := append([]string{strconv.Itoa(t.Run), share(t.Share), t.Clause, t.Error}, h.Problem.Within.Values(t.X)...)
		for _, name := range clauses {
			v := math.NaN()
			if t.Result != nil {
				if f := t.Result.Find(name); f != nil {
					v = f.Share()
				}
			}
			line = append(line, share(v))
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// clauses are the names of all that was judged, in the order in which they were met.
func (h *Hunt) clauses() []string {
	var names []string
	known := map[string]bool{}
	for i := range h.Trials {
		if r := h.Trials[i].Result; r != nil {
			for k := range r.Findings {
				if name := r.Findings[k].Name; !known[name] {
					known[name] = true
					names = append(names, name)
				}
			}
		}
	}
	return names
}

// share is a figure of a table; nothing where there is none.
func share(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}
