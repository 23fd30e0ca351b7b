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

// rowsPerWrite bounds the memory that writing and reading take, and rowsAtOnce is how many rows are packed together: a
// multiple of it, so that the file is the same however fast the rows come.
const (
	rowsPerWrite = 1024
	rowsAtOnce   = 4 * rowsPerWrite
)

// packing is a trace on its way into a Parquet file.
type packing struct {
	places  []int // of the leaf that each column of the file is
	rows    *parquet.ConcurrentRowGroupWriter
	columns []*parquet.ColumnWriter
	chunk   []parquet.Value
	written int          // rows
	end     func() error // ends the file
}

func (r *Recorder) newPacking(w io.Writer) *packing {
	list := r.leaves()
	p := &packing{places: make([]int, len(list)), chunk: make([]parquet.Value, 0, rowsPerWrite)}
	group := parquet.Group{}
	for i, l := range list {
		group[l.name] = parquet.Compressed(parquet.Leaf(parquet.DoubleType), &parquet.Snappy)
		p.places[i] = i
	}
	// The library orders the columns of a schema by name.
	slices.SortFunc(p.places, func(a, b int) int { return cmp.Compare(list[a].name, list[b].name) })
	out := parquet.NewWriter(w, parquet.NewSchema("trace", group), parquet.CreatedBy("kilter", "1", ""))
	p.rows = out.BeginRowGroup()
	p.columns, p.end = p.rows.ColumnWriters(), out.Close
	return p
}

// take packs the rows of the leaves that it has not packed yet.
func (p *packing) take(list []leaf) error {
	for i, column := range p.columns {
		values := list[p.places[i]].values[p.written:]
		for len(values) > 0 {
			n := min(len(values), rowsPerWrite)
			p.chunk = p.chunk[:0]
			for _, v := range values[:n] {
				p.chunk = append(p.chunk, parquet.DoubleValue(v)) // the writer knows which column it is, and what is always there has no levels
			}
			if _, err := column.WriteRowValues(p.chunk); err != nil {
				return err
			}
			values = values[n:]
		}
	}
	p.written = len(list[0].values)
	return nil
}

func (p *packing) close() error {
	for _, column := range p.columns {
		if err := column.Flush(); err != nil {
			return err
		}
	}
	if _, err := p.rows.Commit(); err != nil {
		return err
	}
	return p.end()
}

// PackInto has the trace packed into a Parquet file while it is recorded, in a goroutine of its own, so that little is left
// to do at the end. What it returns is called once, after the last step, and ends the file and the goroutine. Equal traces
// give equal bytes.
func (r *Recorder) PackInto(w io.Writer) (finish func() error) {
	p := r.newPacking(w)
	full := make(chan []leaf, 1)
	r.full = full
	packed := make(chan error, 1)
	go func() {
		var err error
		for list := range full {
			if err == nil {
				err = p.take(list)
			}
		}
		if err == nil {
			err = p.close()
		}
		packed <- err
	}()
	return func() error {
		full <- r.leaves()
		close(full)
		r.full = nil
		if err := <-packed; err != nil {
			return fmt.Errorf("trace: %w", err)
		}
		return nil
	}
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
