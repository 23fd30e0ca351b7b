package scenarios

import (
	"fmt"
	"math"
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
	minGHI = -30.0
	maxGHI = 2000.0
)

var irradianceTable = tableKind{
	noun: "irradiance", holds: "a CSV of measured irradiance",
	header: "time,ghi or the station's DATE (MM/DD/YYYY), time and Global [W/m^2]",
	find:   skyHeader,
	value: func(text string, _ float64) (v float64, found, wanted string) {
		v, err := strconv.ParseFloat(text, 64)
		switch {
		case err != nil || math.IsNaN(v):
			return 0, "the irradiance " + quoted(text), "a number in W/m2"
		case v < minGHI || v > maxGHI:
			return 0, "the irradiance " + text + " W/m2", fmt.Sprintf("%g to %g W/m2", minGHI, maxGHI)
		}
		return max(v, 0), "", ""
	},
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
	return loadSky(path, starts, 0)
}

// WithSkyFile returns the scenario under the measured sky of a file, which must
// cover the whole run; see LoadSky.
func (s *Scenario) WithSkyFile(path string) (*Scenario, error) {
	points, err := loadSky(path, s.Starts, s.Lasts)
	if err != nil {
		return nil, err
	}
	return s.WithSky(points), nil
}

func loadSky(path string, starts time.Time, lasts time.Duration) ([]physics.IrradiancePoint, error) {
	t, err := readTable(path, &irradianceTable)
	if err != nil {
		return nil, err
	}
	moments, err := t.from(starts, lasts)
	var points []physics.IrradiancePoint
	for _, m := range moments {
		points = append(points, physics.IrradiancePoint{AtMS: m.atMS, GHI: m.value})
	}
	return points, err
}

func skyHeader(header []string) (tableColumns, bool) {
	cols := tableColumns{date: -1, time: -1, value: -1, unit: 1}
	for i, name := range header {
		switch {
		case i == 0:
			if strings.HasPrefix(name, "DATE (MM/DD/YYYY)") {
				cols.date, cols.time = 0, 1
			} else if strings.EqualFold(strings.TrimSpace(name), "time") {
				cols.time = 0
			}
		case cols.value < 0 && (strings.EqualFold(strings.TrimSpace(name), "ghi") ||
			strings.HasPrefix(name, "Global") && strings.Contains(name, "[W/m^2]")):
			cols.value = i
		}
	}
	return cols, cols.time >= 0 && cols.value > cols.time
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
