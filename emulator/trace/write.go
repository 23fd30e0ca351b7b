package trace

import (
	"bufio"
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"sync"

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

// WriteParquet writes the trace; equal traces give equal bytes. Columns are packed side by side, on all cores.
func (r *Recorder) WriteParquet(w io.Writer) error {
	list := r.leaves()
	// The library orders the columns of a schema by name.
	slices.SortFunc(list, func(a, b leaf) int { return cmp.Compare(a.name, b.name) })
	group := parquet.Group{}
	for _, l := range list {
		group[l.name] = parquet.Compressed(parquet.Leaf(parquet.DoubleType), &parquet.Snappy)
	}
	out := parquet.NewWriter(w, parquet.NewSchema("trace", group), parquet.CreatedBy("kilter", "1", ""))
	rows := out.BeginRowGroup()
	errs := make([]error, len(list), len(list)+2)
	var columns sync.WaitGroup
	for i, column := range rows.ColumnWriters() {
		columns.Go(func() { errs[i] = writeColumn(column, i, list[i].values) })
	}
	columns.Wait()
	_, err := rows.Commit()
	if err := errors.Join(append(errs, err, out.Close())...); err != nil {
		return fmt.Errorf("trace: %w", err)
	}
	return nil
}

func writeColumn(column *parquet.ColumnWriter, index int, values []float64) error {
	chunk := make([]parquet.Value, 0, rowsPerWrite)
	for len(values) > 0 {
		n := min(len(values), rowsPerWrite)
		chunk = chunk[:0]
		for _, v := range values[:n] {
			chunk = append(chunk, parquet.DoubleValue(v).Level(0, 0, index))
		}
		if _, err := column.WriteRowValues(chunk); err != nil {
			return err
		}
		values = values[n:]
	}
	return column.Flush()
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
