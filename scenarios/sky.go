package scenarios

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"kilter/physics"
)

// What a file of measured irradiance may hold. Instruments tell slightly
// negative values at night (thermal offset, a few W/m2), and an edge of cloud
// may lift the global irradiance above the 1361 W/m2 outside the atmosphere for
// moments; what is beyond these is no measurement (bounds: common practice, no
// source).
const (
	maxSkyBytes = 32 << 20
	minGHI      = -30.0
	maxGHI      = 2000.0
)

// skyRow is one row of a file of measured irradiance.
type skyRow struct {
	clock time.Duration // since midnight of the file's first day, or since the start
	ghi   float64
	line  int
}

// skyTable is a file of measured irradiance.
type skyTable struct {
	file string
	rows []skyRow
	// sinceStart says that times count from the start of the run and not from
	// midnight: a file in seconds.
	sinceStart bool
}

// LoadSky reads measured global horizontal irradiance from a CSV file of one of
// two forms: the station's, with a date in the first column (DATE (MM/DD/YYYY)),
// the time HH:MM in the second and a column like "Global PSP [W/m^2]"; or plain,
// with the header time,ghi and times as HH:MM, HH:MM:SS, seconds since the start
// or RFC 3339.
//
// The clock time of the file is laid on the scenario's local clock time of day,
// whatever date and zone the file is of: 10:30 at the station is 10:30 on the
// site. Values down to -30 W/m2 are the instrument's offset and become 0.
func LoadSky(path string, starts time.Time) ([]physics.IrradiancePoint, error) {
	t, err := readSky(path)
	if err != nil {
		return nil, err
	}
	return t.from(starts, 0)
}

// WithSkyFile returns the scenario under the measured sky of a file, which must
// cover the whole run; see LoadSky.
func (s *Scenario) WithSkyFile(path string) (*Scenario, error) {
	t, err := readSky(path)
	if err != nil {
		return nil, err
	}
	points, err := t.from(s.Starts, s.Lasts)
	if err != nil {
		return nil, err
	}
	return s.WithSky(points), nil
}

// from lays the table on a run. The points are those of the run, with one before
// it and, where the length is known, one after it.
func (t *skyTable) from(starts time.Time, lasts time.Duration) ([]physics.IrradiancePoint, error) {
	h, m, s := starts.Clock()
	begin := time.Duration(h)*time.Hour + time.Duration(m)*time.Minute + time.Duration(s)*time.Second
	if t.sinceStart {
		begin = 0
	}
	first, last := t.rows[0].clock, t.rows[len(t.rows)-1].clock
	if begin < first || begin+lasts > last {
		return nil, fault(spot{file: t.file}, "irradiance "+t.spoken(first)+" to "+t.spoken(last),
			"what the scenario needs: "+t.spoken(begin)+" to "+t.spoken(begin+lasts), "the file's clock time is laid on the scenario's local clock time")
	}
	var points []physics.IrradiancePoint
	for i, r := range t.rows {
		at := (r.clock - begin).Milliseconds()
		before := i+1 < len(t.rows) && t.rows[i+1].clock <= begin
		after := lasts > 0 && i > 0 && t.rows[i-1].clock >= begin+lasts
		if before || after {
			continue
		}
		points = append(points, physics.IrradiancePoint{AtMS: at, GHI: max(r.ghi, 0)})
	}
	return points, nil
}

// spoken says a time of the table as its file does.
func (t *skyTable) spoken(d time.Duration) string {
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

// skyColumns says where the header puts things; date is -1 in the plain form.
type skyColumns struct{ date, time, ghi int }

func readSky(path string) (*skyTable, error) {
	whole := spot{file: path}
	file, err := os.Open(path)
	if err != nil {
		return nil, fault(whole, "no file that can be read", "a CSV of measured irradiance", "")
	}
	defer file.Close()
	if info, err := file.Stat(); err != nil || info.IsDir() || info.Size() > maxSkyBytes {
		return nil, fault(whole, "a folder or a very large file", "a CSV of at most 32 MiB", "")
	}
	return parseSky(path, file)
}

func parseSky(path string, in io.Reader) (*skyTable, error) {
	c := csv.NewReader(bufio.NewReader(in))
	c.FieldsPerRecord, c.ReuseRecord, c.TrimLeadingSpace = -1, true, true
	t := &skyTable{file: path}
	header, err := c.Read()
	if err != nil {
		return nil, fault(spot{file: path}, "an empty file", "a CSV of measured irradiance", "")
	}
	cols, ok := skyHeader(header)
	if !ok {
		return nil, fault(spot{file: path, line: 1, col: 1}, "the header "+quoted(strings.Join(header, ",")),
			"time,ghi or the station's DATE (MM/DD/YYYY), time and Global [W/m^2]", "")
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
		if len(record) <= max(cols.time, cols.ghi) {
			return nil, fault(at, fmt.Sprintf("%d columns", len(record)), fmt.Sprintf("at least %d", max(cols.time, cols.ghi)+1), "")
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

func skyHeader(header []string) (skyColumns, bool) {
	cols := skyColumns{date: -1, time: -1, ghi: -1}
	for i, name := range header {
		switch {
		case i == 0:
			name = strings.TrimPrefix(name, "\ufeff")
			if strings.HasPrefix(name, "DATE (MM/DD/YYYY)") {
				cols.date, cols.time = 0, 1
			} else if strings.EqualFold(strings.TrimSpace(name), "time") {
				cols.time = 0
			}
		case cols.ghi < 0 && (strings.EqualFold(strings.TrimSpace(name), "ghi") ||
			strings.HasPrefix(name, "Global") && strings.Contains(name, "[W/m^2]")):
			cols.ghi = i
		}
	}
	return cols, cols.time >= 0 && cols.ghi > cols.time
}

// row reads one row; midnight is that of the first row's day, once it is known.
func (t *skyTable) row(record []string, cols skyColumns, at spot, midnight *time.Time) (skyRow, error) {
	ghi, err := strconv.ParseFloat(strings.TrimSpace(record[cols.ghi]), 64)
	switch {
	case err != nil || math.IsNaN(ghi):
		return skyRow{}, fault(at, "the irradiance "+quoted(record[cols.ghi]), "a number in W/m2", "")
	case ghi < minGHI || ghi > maxGHI:
		return skyRow{}, fault(at, "the irradiance "+record[cols.ghi]+" W/m2", fmt.Sprintf("%g to %g W/m2", minGHI, maxGHI), "")
	}
	row := skyRow{ghi: ghi, line: at.line}
	if cols.date >= 0 {
		stamp := record[cols.date] + " " + record[cols.time]
		when, err := time.Parse("01/02/2006 15:04", stamp)
		if err != nil {
			return skyRow{}, fault(at, "the time "+quoted(stamp), "MM/DD/YYYY and HH:MM", "")
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
		return skyRow{}, fault(at, "the time "+quoted(stamp), "HH:MM, HH:MM:SS, RFC 3339, or seconds since the start in every row", "")
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

// skyPoints reads the points that a scenario file has written out.
func skyPoints(list list[*skyPointFile], out *findings) []physics.IrradiancePoint {
	var points []physics.IrradiancePoint
	for i, p := range list {
		ms := out.millis(p.When)
		if i > 0 && ms <= points[i-1].AtMS {
			out.add(p.When.at, shownAs("time", p.When.v), "a later time than the point before", "")
		}
		points = append(points, physics.IrradiancePoint{AtMS: ms, GHI: p.GHI.v})
	}
	return points
}
