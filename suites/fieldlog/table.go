package fieldlog

import "math"

// Table is a file as it stands: named columns over rows.
type Table struct {
	File     string
	Columns  []Column
	Rows     int
	Lines    []int32 // of each row in the file; nil where rows have none
	Findings []Finding
}

// Column is one column: numbers, or texts where they are none.
type Column struct {
	Name    string
	Unit    string    // as the header says it; empty where it does not
	Values  []float64 // NaN where missing; nil for a column of texts
	Texts   []string
	EpochS  bool // Values are seconds since 1970 by the file's own word
	Missing int
}

// Find gives the column of that name.
func (t *Table) Find(name string) *Column {
	for i := range t.Columns {
		if t.Columns[i].Name == name {
			return &t.Columns[i]
		}
	}
	return nil
}

// line is that of a row, for messages.
func (t *Table) line(row int) int {
	if row < len(t.Lines) {
		return int(t.Lines[row])
	}
	return 0
}

func (t *Table) note(level Level, where, what string) {
	t.Findings = append(t.Findings, Finding{level, where, what})
}

func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
