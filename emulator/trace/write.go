package trace

import (
	"bufio"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"

	"github.com/parquet-go/parquet-go"
)

// leaf is one column of a file.
type leaf struct {
	name   string
	values []float64
}

// leaves lists the files' columns by name: extremes stand beside their column.
func (r *Recorder) leaves() []leaf {
	list := []leaf{{"time_s", r.TimesS}}
	for i := range r.Columns {
		c := &r.Columns[i]
		list = append(list, leaf{c.Name, c.Values})
		if c.Min != nil {
			list = append(list, leaf{c.Name + "_min", c.Min}, leaf{c.Name + "_max", c.Max})
		}
	}
	return list
}

// rowsPerWrite bounds the memory that writing takes.
const rowsPerWrite = 1024

// WriteParquet writes the trace; equal traces give equal bytes.
func (r *Recorder) WriteParquet(w io.Writer) error {
	list := r.leaves()
	// The library orders the columns of a schema by name.
	slices.SortFunc(list, func(a, b leaf) int { return cmp.Compare(a.name, b.name) })
	group := parquet.Group{}
	for _, l := range list {
		group[l.name] = parquet.Compressed(parquet.Leaf(parquet.DoubleType), &parquet.Snappy)
	}
	out := parquet.NewWriter(w, parquet.NewSchema("trace", group),
		parquet.CreatedBy("kilter", "1", ""))
	rows := make([]parquet.Row, 0, rowsPerWrite)
	flat := make([]parquet.Value, 0, rowsPerWrite*len(list))
	flush := func() error {
		_, err := out.WriteRows(rows)
		rows, flat = rows[:0], flat[:0]
		return err
	}
	for t := range r.TimesS {
		from := len(flat)
		for i, l := range list {
			flat = append(flat, parquet.DoubleValue(l.values[t]).Level(0, 0, i))
		}
		rows = append(rows, parquet.Row(flat[from:len(flat):len(flat)]))
		if len(rows) == rowsPerWrite {
			if err := flush(); err != nil {
				return fmt.Errorf("trace: %w", err)
			}
		}
	}
	if err := flush(); err != nil {
		return fmt.Errorf("trace: %w", err)
	}
	if err := out.Close(); err != nil {
		return fmt.Errorf("trace: %w", err)
	}
	return nil
}

// WriteCSV writes the trace as comma-separated values with a header.
func (r *Recorder) WriteCSV(w io.Writer) error {
	out := bufio.NewWriter(w)
	list := r.leaves()
	for i, l := range list {
		if i > 0 {
			out.WriteByte(',')
		}
		out.WriteString(l.name)
	}
	out.WriteByte('\n')
	var digits [32]byte
	for t := range r.TimesS {
		for i, l := range list {
			if i > 0 {
				out.WriteByte(',')
			}
			out.Write(strconv.AppendFloat(digits[:0], l.values[t], 'g', -1, 64))
		}
		out.WriteByte('\n')
	}
	return out.Flush()
}
