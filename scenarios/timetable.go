package scenarios

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// maxTableBytes bounds a file of measurements.
const maxTableBytes = 32 << 20

// tableKind is what a CSV file of measurements may hold.
type tableKind struct {
	noun   string // the quantity
	holds  string // the whole file
	header string // how its first row may read
	find   func(header []string) (tableColumns, bool)
	value  func(text string, unit float64) (v float64, found, wanted string)
}

// tableColumns says where the header puts things; date is -1 where it has none.
// The unit is what one of the file's unit is in the base unit.
type tableColumns struct {
	date, time, value int
	unit              float64
}

// timetable is a CSV file of measurements over time.
type timetable struct {
	kind *tableKind
	file string
	rows []tableRow
	// sinceStart says that times count from the start of the run and not from
	// midnight: a file in seconds.
	sinceStart bool
}

// tableRow is one row of it.
type tableRow struct {
	clock time.Duration // since midnight of the file's first day, or since the start
	value float64
	line  int
}

// moment is a measured value at a time of the run.
type moment struct {
	atMS  int64
	value float64
}

func readTable(path string, kind *tableKind) (*timetable, error) {
	whole := spot{file: path}
	file, err := os.Open(path)
	if err != nil {
		return nil, fault(whole, "no file that can be read", kind.holds, "")
	}
	defer file.Close()
	if info, err := file.Stat(); err != nil || info.IsDir() || info.Size() > maxTableBytes {
		return nil, fault(whole, "a folder or a very large file", "a CSV of at most 32 MiB", "")
	}
	return parseTable(path, file, kind)
}

func parseTable(path string, in io.Reader, kind *tableKind) (*timetable, error) {
	c := csv.NewReader(bufio.NewReader(in))
	c.FieldsPerRecord, c.ReuseRecord, c.TrimLeadingSpace = -1, true, true
	t := &timetable{kind: kind, file: path}
	header, err := c.Read()
	if err != nil {
		return nil, fault(spot{file: path}, "an empty file", kind.holds, "")
	}
	header[0] = strings.TrimPrefix(header[0], "\ufeff")
	cols, ok := kind.find(header)
	if !ok {
		return nil, fault(spot{file: path, line: 1, col: 1}, "the header "+quoted(strings.Join(header, ",")), kind.header, "")
	}
	var midnight time.Time
	for {
		record, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			at := spot{file: path}
			var broken *csv.ParseError
			if errors.As(err, &broken) {
				at.line, at.col = broken.Line, 1
			}
			return nil, fault(at, "a broken row", "values between commas", "")
		}
		line, _ := c.FieldPos(0)
		at := spot{file: path, line: line, col: 1}
		if last := max(cols.time, cols.value); len(record) <= last {
			return nil, fault(at, fmt.Sprintf("%d columns", len(record)), fmt.Sprintf("at least %d", last+1), "")
		}
		row, err := t.row(record, cols, at, &midnight)
		if err != nil {
			return nil, err
		}
		if n := len(t.rows); n > 0 && row.clock <= t.rows[n-1].clock {
			return nil, fault(at, t.spoken(row.clock)+" after "+t.spoken(t.rows[n-1].clock), "rows in the order of time", "")
		}
		t.rows = append(t.rows, row)
	}
	if len(t.rows) < 2 {
		return nil, fault(spot{file: path}, fmt.Sprintf("%d rows", len(t.rows)), "at least two", "")
	}
	return t, nil
}

// row reads one row; midnight is that of the first row's day, once it is known.
func (t *timetable) row(record []string, cols tableColumns, at spot, midnight *time.Time) (tableRow, error) {
	v, found, wanted := t.kind.value(strings.TrimSpace(record[cols.value]), cols.unit)
	if wanted != "" {
		return tableRow{}, fault(at, found, wanted, "")
	}
	row := tableRow{value: v, line: at.line}
	if cols.date >= 0 {
		stamp := record[cols.date] + " " + record[cols.time]
		when, err := time.Parse("01/02/2006 15:04", stamp)
		if err != nil {
			return tableRow{}, fault(at, "the time "+quoted(stamp), "MM/DD/YYYY and HH:MM", "")
		}
		row.clock = sinceMidnight(when, midnight)
		return row, nil
	}
	stamp := strings.TrimSpace(record[cols.time])
	if when, err := time.Parse(time.RFC3339, stamp); err == nil {
		row.clock = sinceMidnight(when, midnight)
		return row, nil
	}
	if h, m, s, ok := clockTime(stamp); ok {
		row.clock = time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
		return row, nil
	}
	secs, err := strconv.ParseFloat(stamp, 64)
	if err != nil || !(math.Abs(secs) < most) || len(t.rows) > 0 && !t.sinceStart {
		return tableRow{}, fault(at, "the time "+quoted(stamp), "HH:MM, HH:MM:SS, RFC 3339, or seconds since the start in every row", "")
	}
	t.sinceStart = true
	row.clock = seconds(secs)
	return row, nil
}

// sinceMidnight gives the time since midnight of the first row's day on the
// file's own clock.
func sinceMidnight(when time.Time, midnight *time.Time) time.Duration {
	if midnight.IsZero() {
		y, m, d := when.Date()
		*midnight = time.Date(y, m, d, 0, 0, 0, 0, when.Location())
	}
	return when.Sub(*midnight)
}

// from lays the table on a run. The points are those of the run, with one before
// it and, where the length is known, one after it.
func (t *timetable) from(starts time.Time, lasts time.Duration) ([]moment, error) {
	h, m, s := starts.Clock()
	begin := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
	if t.sinceStart {
		begin = 0
	}
	first, last := t.rows[0].clock, t.rows[len(t.rows)-1].clock
	if begin < first || begin+lasts > last {
		return nil, fault(spot{file: t.file}, t.kind.noun+" "+t.spoken(first)+" to "+t.spoken(last),
			"what the scenario needs: "+t.spoken(begin)+" to "+t.spoken(begin+lasts), "the file's clock time is laid on the scenario's local clock time")
	}
	var points []moment
	for i, r := range t.rows {
		at := (r.clock - begin).Milliseconds()
		before := i+1 < len(t.rows) && t.rows[i+1].clock <= begin
		after := lasts > 0 && i > 0 && t.rows[i-1].clock >= begin+lasts
		if before || after {
			continue
		}
		points = append(points, moment{at, r.value})
	}
	return points, nil
}

// spoken says a time of the table as its file does.
func (t *timetable) spoken(d time.Duration) string {
	if t.sinceStart {
		return "second " + strconv.FormatFloat(d.Seconds(), 'f', -1, 64)
	}
	clock := fmt.Sprintf("%02d:%02d", int(d.Hours())%24, int(d.Minutes())%60)
	if s := int(d.Seconds()) % 60; s != 0 {
		clock += fmt.Sprintf(":%02d", s)
	}
	if days := int(d.Hours()) / 24; days > 0 {
		clock += fmt.Sprintf(" of day %d", days+1)
	}
	return clock
}

// besideFile gives the path of a file that another file names, relative to that.
func besideFile(name text, what string) (string, error) {
	if !namesFiles(name.at.file) {
		return "", fault(name.at, "a file named by a story or site that is built-in or was sent", "measured points", "")
	}
	file := name.s
	if !filepath.IsAbs(file) {
		file = filepath.Join(filepath.Dir(name.at.file), file)
	}
	if !exists(file) {
		return "", fault(name.at, "the file "+quoted(name.s)+", which cannot be read", "a CSV of measured "+what, "it is looked for relative to this file")
	}
	return file, nil
}
