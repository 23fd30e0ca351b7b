package fieldlog

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strings"

	"github.com/parquet-go/parquet-go"
)

// parquetFormat reads flat Parquet files, the bench's own traces among them.
var parquetFormat = Format{
	Name:  "Parquet",
	Knows: func(head []byte) bool { return bytes.HasPrefix(head, []byte("PAR1")) },
	Read:  readParquet,
}

func readParquet(file string, in *os.File, size int64) (t *Table, err error) {
	// The library panics on some files that were tampered with.
	defer func() {
		if p := recover(); p != nil {
			t, err = nil, bad(file, 0, "", "a broken Parquet file", "one that was closed whole", fmt.Sprint(p))
		}
	}()
	f, err := parquet.OpenFile(in, size)
	if err != nil {
		return nil, bad(file, 0, "", "a broken Parquet file", "one that was closed whole", err.Error())
	}
	t = &Table{File: file, Rows: int(f.NumRows())}
	leaves := f.Schema().Columns()
	if f.NumRows()*int64(len(leaves)) > maxCells {
		return nil, tooLarge(file, f.NumRows(), len(leaves))
	}
	for i, path := range leaves {
		if len(path) != 1 {
			t.note(Note, path[0], "a nested column, left out")
			continue
		}
		leaf, _ := f.Schema().Lookup(path...)
		c := Column{Name: path[0]}
		scale := 1.0
		if logical := leaf.Node.Type().LogicalType(); logical != nil && strings.HasPrefix(logical.String(), "TIMESTAMP") {
			c.EpochS, scale = true, 1e-9
			switch text := strings.ToUpper(logical.String()); {
			case strings.Contains(text, "MILLIS"):
				scale = 1e-3
			case strings.Contains(text, "MICROS"):
				scale = 1e-6
			}
		}
		if err := readLeaf(f, i, &c, scale); err != nil {
			return nil, bad(file, 0, c.Name, "a broken column", "values", err.Error())
		}
		if len(c.Values) != t.Rows && len(c.Texts) != t.Rows {
			t.note(Note, c.Name, "a repeated column, left out")
			continue
		}
		splitUnit(&c)
		t.Columns = append(t.Columns, c)
	}
	return t, nil
}

func readLeaf(f *parquet.File, leaf int, c *Column, scale float64) error {
	buffer := make([]parquet.Value, 1024)
	for _, g := range f.RowGroups() {
		pages := g.ColumnChunks()[leaf].Pages()
		for {
			page, err := pages.ReadPage()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				pages.Close()
				return err
			}
			values := page.Values()
			for {
				n, err := values.ReadValues(buffer)
				for _, v := range buffer[:n] {
					c.take(v, scale)
				}
				if errors.Is(err, io.EOF) {
					break
				}
				if err != nil {
					pages.Close()
					return err
				}
			}
		}
		pages.Close()
	}
	return nil
}

// take appends one value, a number unless the column has texts.
func (c *Column) take(v parquet.Value, scale float64) {
	if v.Kind() == parquet.ByteArray && !v.IsNull() {
		for range c.Values { // nulls before the first text
			c.Texts = append(c.Texts, "")
		}
		c.Values = nil
		c.Texts = append(c.Texts, string(v.ByteArray()))
		return
	}
	x := math.NaN()
	switch {
	case v.IsNull():
	case v.Kind() == parquet.Double:
		x = v.Double()
	case v.Kind() == parquet.Float:
		x = float64(v.Float())
	case v.Kind() == parquet.Int64:
		x = float64(v.Int64())
	case v.Kind() == parquet.Int32:
		x = float64(v.Int32())
	case v.Kind() == parquet.Boolean:
		x = 0
		if v.Boolean() {
			x = 1
		}
	}
	if c.Texts != nil {
		c.Texts = append(c.Texts, "")
		return
	}
	if !known(x) {
		x = math.NaN()
		c.Missing++
	}
	c.Values = append(c.Values, x*scale)
}

func tooLarge(file string, rows int64, columns int) error {
	return bad(file, 0, "", fmt.Sprintf("%d rows of %d columns", rows, columns), fmt.Sprintf("at most %d values", maxCells),
		"cut out the hours around the oscillation, or the columns of powers")
}
