package trace

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// File is a trace as it was written.
type File struct {
	TimesS []float64
	names  []string
	values map[string][]float64
}

// Read reads a trace as it was packed.
func Read(in io.ReaderAt, size int64) (*File, error) {
	file, err := parquet.OpenFile(in, size)
	if err != nil {
		return nil, fmt.Errorf("trace: %w", err)
	}
	f := &File{values: map[string][]float64{}}
	for _, c := range file.Schema().Columns() {
		f.names = append(f.names, c[0])
	}
	columns := make([][]float64, len(f.names))
	reader := parquet.NewReader(file)
	defer reader.Close()
	rows := make([]parquet.Row, rowsPerWrite)
	for {
		n, err := reader.ReadRows(rows)
		for _, row := range rows[:n] {
			for _, v := range row {
				if v.Kind() != parquet.Double {
					return nil, fmt.Errorf("trace: column %q: found %v, want figures", f.names[v.Column()], v.Kind())
				}
				columns[v.Column()] = append(columns[v.Column()], v.Double())
			}
		}
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, fmt.Errorf("trace: %w", err)
		}
	}
	for i, name := range f.names {
		f.values[name] = columns[i]
	}
	f.TimesS = f.values["time_s"]
	if len(f.TimesS) == 0 {
		return nil, errors.New("trace: found no column time_s with rows, want a trace of kilter")
	}
	for name, values := range f.values {
		if len(values) != len(f.TimesS) {
			return nil, fmt.Errorf("trace: column %q: found %d rows, want %d", name, len(values), len(f.TimesS))
		}
	}
	return f, nil
}

// Names are the columns in the order of their names, without the time and the extremes.
func (f *File) Names() []string {
	return slices.DeleteFunc(slices.Clone(f.names), func(name string) bool {
		if name == "time_s" {
			return true
		}
		for _, end := range []string{"_min", "_max"} {
			if whole, is := strings.CutSuffix(name, end); is && f.values[whole] != nil {
				return true
			}
		}
		return false
	})
}

// Column returns a column's values and, where it has them, the extremes within each row; nil where there
// is no such column.
func (f *File) Column(name string) (values, low, high []float64) {
	return f.values[name], f.values[name+"_min"], f.values[name+"_max"]
}
