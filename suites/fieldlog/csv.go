package fieldlog

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"unicode/utf16"
)

// tableFormat reads text tables: any delimiter, decimal sign, marks at the beginning and lines before the header.
var tableFormat = Format{
	Name:  "CSV",
	Knows: func([]byte) bool { return true },
	Read:  readText,
}

func readText(file string, in *os.File, _ int64) (*Table, error) {
	var source io.Reader = in
	buffered := bufio.NewReaderSize(in, headSize)
	head, _ := buffered.Peek(headSize)
	t := &Table{File: file}
	switch {
	case wideText(head):
		text, err := narrow(buffered)
		if err != nil {
			return nil, bad(file, 0, "", "broken UTF-16", "text", err.Error())
		}
		t.note(Note, "", "UTF-16, read as such")
		head = text[:min(len(text), headSize)]
		source = bytes.NewReader(text)
	case bytes.HasPrefix(head, utf8Mark):
		_, _ = buffered.Discard(len(utf8Mark))
		head = head[len(utf8Mark):]
		t.note(Note, "", "a byte order mark at the beginning, left out")
		source = buffered
	default:
		source = buffered
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return nil, bad(file, 1, "", "bytes that are no text", "CSV or Parquet", "")
	}
	l, wrong := sniff(head)
	if wrong != "" {
		return nil, bad(file, 1, "", wrong, "a line of column names, then a line for each moment", "delimiters may be , ; | or tabs")
	}
	if l.decimal == ',' {
		t.note(Note, "", "a comma as the decimal sign")
	}
	return t, t.fill(source, l)
}

// narrow turns UTF-16 into UTF-8.
func narrow(in io.Reader) ([]byte, error) {
	raw, err := io.ReadAll(in)
	if err != nil {
		return nil, err
	}
	var order binary.ByteOrder = binary.LittleEndian
	if raw[0] == 0xfe {
		order = binary.BigEndian
	}
	units := make([]uint16, len(raw)/2-1)
	for i := range units {
		units[i] = order.Uint16(raw[2*i+2:])
	}
	return []byte(string(utf16.Decode(units))), nil
}

// lastByte remembers how a file ends.
type lastByte struct {
	in   io.Reader
	last byte
}

func (l *lastByte) Read(p []byte) (int, error) {
	n, err := l.in.Read(p)
	if n > 0 {
		l.last = p[n-1]
	}
	return n, err
}

// fill reads the rows.
func (t *Table) fill(in io.Reader, l layout) error {
	end := &lastByte{in: in}
	lines := bufio.NewReaderSize(end, 1<<16)
	skip := l.skip + 1
	if l.units != nil {
		skip++
	}
	for range skip {
		if _, err := lines.ReadString('\n'); err != nil {
			return bad(t.File, skip, "", "a header alone", "rows under it", "")
		}
	}
	t.name(l)
	rows := csv.NewReader(lines)
	rows.Comma, rows.Comment, rows.ReuseRecord, rows.FieldsPerRecord, rows.LazyQuotes, rows.TrimLeadingSpace = l.delimiter, '#', true, -1, true, l.delimiter != '\t'
	odd, firstOdd, junk := 0, 0, make([]junkCell, len(t.Columns))
	lastOdd := 0
	for {
		record, err := rows.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return bad(t.File, skip+1, "", "a broken row", "values between delimiters", err.Error())
		}
		line, _ := rows.FieldPos(0)
		line += skip
		if len(record) != len(t.Columns) && !(len(record) == len(t.Columns)+1 && record[len(record)-1] == "") {
			if odd++; odd == 1 {
				firstOdd = line
			}
			lastOdd = line
			continue
		}
		if (t.Rows+1)*len(t.Columns) > maxCells {
			return tooLarge(t.File, int64(t.Rows), len(t.Columns))
		}
		for i := range t.Columns {
			t.Columns[i].cell(record[i], l.decimal, line, t.Rows, &junk[i])
		}
		t.Lines = append(t.Lines, int32(line))
		t.Rows++
	}
	if t.Rows == 0 {
		return bad(t.File, skip, "", "a header alone", "rows under it", "")
	}
	last := int(t.Lines[t.Rows-1])
	if odd > 0 && lastOdd > last && end.last != '\n' {
		t.note(Note, fmt.Sprintf("line %d", lastOdd), "the last line is cut, and left out")
		odd--
	}
	if odd > 0 {
		if odd*20 > t.Rows {
			return bad(t.File, firstOdd, "", fmt.Sprintf("%d rows with another number of columns than the header's %d", odd, len(t.Columns)), "the same number in each row", "")
		}
		t.note(Warning, fmt.Sprintf("line %d", firstOdd), fmt.Sprintf("%s with another number of columns than the header, this the first; left out", counted(odd, "row")))
	}
	return t.conclude(junk)
}

func (t *Table) name(l layout) {
	seen := map[string]int{}
	for i, name := range l.names {
		if name == "" {
			name = fmt.Sprintf("column %d", i+1)
		}
		if seen[name]++; seen[name] > 1 {
			name = fmt.Sprintf("%s (%d)", name, seen[name])
		}
		c := Column{Name: name}
		splitUnit(&c)
		if l.units != nil && c.Unit == "" {
			c.Unit = strings.Trim(l.units[i], "[]()")
		}
		t.Columns = append(t.Columns, c)
	}
}

// junkCell remembers the cells of a column that are neither numbers nor empty.
type junkCell struct {
	count, line int
	text        string
}

// cell takes one cell. A column begins as numbers, and becomes one of texts when its first filled cells are none.
func (c *Column) cell(text string, decimal byte, line, row int, junk *junkCell) {
	if c.Texts != nil {
		c.Texts = append(c.Texts, strings.Clone(text))
		return
	}
	v, state := number(text, decimal)
	switch state {
	case aNumber:
	case anEmpty:
		c.Missing++
	default:
		if row == c.Missing { // nothing but gaps so far
			for range row {
				c.Texts = append(c.Texts, "")
			}
			c.Values, c.Missing = nil, 0
			c.Texts = append(c.Texts, strings.Clone(text))
			return
		}
		if junk.count++; junk.count == 1 {
			junk.line, junk.text = line, strings.Clone(text)
		}
		c.Missing++
	}
	c.Values = append(c.Values, v)
}

// conclude tells what the cells were like.
func (t *Table) conclude(junk []junkCell) error {
	for i := range t.Columns {
		c, j := &t.Columns[i], junk[i]
		if j.count == 0 || c.Texts != nil {
			continue
		}
		if j.count*5 > t.Rows {
			return bad(t.File, j.line, c.Name, strconv.Quote(j.text)+fmt.Sprintf(" and %d more cells that are no numbers", j.count-1), "numbers, or empty cells where a value is missing", "")
		}
		t.note(Warning, fmt.Sprintf("%s, line %d", c.Name, j.line), fmt.Sprintf("%s no numbers, the first %q; taken as missing", counted(j.count, "cell"), j.text))
	}
	return nil
}

type cellState uint8

const (
	aNumber cellState = iota
	anEmpty
	aText
)

// number reads a cell.
func number(text string, decimal byte) (float64, cellState) {
	text = strings.TrimSpace(text)
	if text == "" {
		return math.NaN(), anEmpty
	}
	if decimal == ',' {
		if strings.IndexByte(text, ',') >= 0 {
			text = strings.Replace(strings.ReplaceAll(text, ".", ""), ",", ".", 1)
		}
	}
	if c := text[0]; c >= '0' && c <= '9' || c == '-' || c == '+' || c == '.' {
		v, err := strconv.ParseFloat(text, 64)
		if err == nil && known(v) {
			return v, aNumber
		}
		if text == "-" || text == "--" || text == "---" {
			return math.NaN(), anEmpty
		}
	}
	switch strings.ToLower(text) {
	case "nan", "null", "none", "na", "n/a", "nil", "inf", "-inf", "+inf", "-nan", "unknown", "unavailable":
		return math.NaN(), anEmpty
	}
	return math.NaN(), aText
}
