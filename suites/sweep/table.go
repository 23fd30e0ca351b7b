package sweep

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"

	"kilter/suites/campaign"
	"kilter/suites/verdict"
)

// column is one column of the table: what a row has in it, and false where it has nothing.
type column struct {
	name string
	leaf parquet.Node
	of   func(row int) (parquet.Value, bool)
}

var (
	text    = parquet.Compressed(parquet.String(), &parquet.Snappy)
	figure  = parquet.Compressed(parquet.Leaf(parquet.DoubleType), &parquet.Snappy)
	integer = parquet.Compressed(parquet.Leaf(parquet.Int64Type), &parquet.Snappy)
	flag    = parquet.Compressed(parquet.Leaf(parquet.BooleanType), &parquet.Snappy)
)

// WriteTable writes a Parquet file of one row a run, in the runs' order: what it was for, its settings as they are written and, of a range,
// as a figure in the unit of its ends; what it came to, and status, margin and observed value of each finding. Equal results give
// equal bytes.
func (p *Plan) WriteTable(w io.Writer, cases []Case, results []*campaign.Result) error {
	columns := p.columns(cases, results)
	slices.SortFunc(columns, func(a, b column) int { return cmp.Compare(a.name, b.name) }) // as the library orders them
	group := parquet.Group{}
	for _, c := range columns {
		group[c.name] = parquet.Optional(c.leaf)
	}
	if len(group) != len(columns) {
		return fmt.Errorf("sweep: two columns of the table have one name")
	}
	out := parquet.NewWriter(w, parquet.NewSchema("sweep", group), parquet.CreatedBy("kilter", "1", ""))
	row := make(parquet.Row, len(columns))
	for i := range cases {
		if results[i] == nil {
			continue
		}
		for k, c := range columns {
			if v, is := c.of(i); is {
				row[k] = v.Level(0, 1, k)
			} else {
				row[k] = parquet.NullValue().Level(0, 0, k)
			}
		}
		if _, err := out.WriteRows([]parquet.Row{row}); err != nil {
			return fmt.Errorf("sweep: %w", err)
		}
	}
	if err := out.Close(); err != nil {
		return fmt.Errorf("sweep: %w", err)
	}
	return nil
}

// columns are those of all runs.
func (p *Plan) columns(cases []Case, results []*campaign.Result) []column {
	always := func(v parquet.Value) (parquet.Value, bool) { return v, true }
	words := func(s string) (parquet.Value, bool) { return parquet.ByteArrayValue([]byte(s)), s != "" }
	list := []column{
		{"part", text, func(i int) (parquet.Value, bool) { return words(string(cases[i].Part)) }},
		{"point", integer, func(i int) (parquet.Value, bool) { return always(parquet.Int64Value(int64(cases[i].Point))) }},
		{"scenario", text, func(i int) (parquet.Value, bool) { return words(p.Stories[cases[i].Story].Name) }},
		{"seed", integer, func(i int) (parquet.Value, bool) { return always(parquet.Int64Value(int64(cases[i].Seed))) }},
		{"site", integer, func(i int) (parquet.Value, bool) { return always(parquet.Int64Value(int64(cases[i].Site))) }},
		{"passed", flag, func(i int) (parquet.Value, bool) { return always(parquet.BooleanValue(results[i].Passed)) }},
		{"fault", text, func(i int) (parquet.Value, bool) { return words(string(results[i].FaultKind)) }},
		{"share", figure, func(i int) (parquet.Value, bool) {
			share, _ := results[i].Worst()
			return parquet.DoubleValue(share), !math.IsNaN(share)
		}},
		{"worst", text, func(i int) (parquet.Value, bool) {
			_, clause := results[i].Worst()
			return words(clause)
		}},
		{"trace_sha256", text, func(i int) (parquet.Value, bool) { return words(results[i].Trace) }},
		{WritesGoal, figure, func(i int) (parquet.Value, bool) { return always(parquet.DoubleValue(results[i].WritesPerHour)) }},
		{ReadsGoal, figure, func(i int) (parquet.Value, bool) { return always(parquet.DoubleValue(results[i].ReadsPerHour)) }},
	}
	for k, knob := range p.Knobs {
		value := func(i int) (string, bool) {
			if cases[i].Point == Unvaried {
				return "", false
			}
			return p.Points[cases[i].Point][k], true
		}
		list = append(list, column{"set." + knob.Name, text, func(i int) (parquet.Value, bool) {
			v, is := value(i)
			return parquet.ByteArrayValue([]byte(v)), is
		}})
		if knob.isRange {
			list = append(list, column{"set." + knob.Name + ".figure", figure, func(i int) (parquet.Value, bool) {
				v, is := value(i)
				if !is {
					return parquet.Value{}, false
				}
				f, is := knob.Figure(v)
				return parquet.DoubleValue(f), is
			}})
		}
	}
	for _, name := range findingNames(results) {
		finding := func(i int) *campaign.Finding { return results[i].Find(name) }
		number := func(of func(*campaign.Finding) verdict.Number) func(i int) (parquet.Value, bool) {
			return func(i int) (parquet.Value, bool) {
				f := finding(i)
				if f == nil {
					return parquet.Value{}, false
				}
				v, known := of(f).Value()
				return parquet.DoubleValue(v), known
			}
		}
		list = append(list,
			column{name + ".status", text, func(i int) (parquet.Value, bool) {
				if f := finding(i); f != nil {
					return words(string(f.Status))
				}
				return parquet.Value{}, false
			}},
			column{name + ".margin", figure, number(func(f *campaign.Finding) verdict.Number { return f.Margin })},
			column{name + ".observed", figure, number(func(f *campaign.Finding) verdict.Number { return f.Observed })},
		)
	}
	return list
}

// findingNames are those of all results, in the order of their first coming.
func findingNames(results []*campaign.Result) []string {
	var names []string
	seen := map[string]bool{}
	for _, r := range results {
		if r == nil {
			continue
		}
		for _, f := range r.Findings {
			if !seen[f.Name] {
				seen[f.Name] = true
				names = append(names, f.Name)
			}
		}
	}
	return names
}
