package control

import (
	"fmt"
	"strconv"
	"strings"
)

// watts is a power on the command line. It wants its unit: a bare number could
// be meant in kW.
type watts struct{ w *float64 }

func (q watts) String() string {
	if q.w == nil {
		return ""
	}
	return strconv.FormatFloat(*q.w, 'g', -1, 64) + "W"
}

func (q watts) Set(text string) error {
	for _, unit := range []struct {
		name string
		size float64
	}{{"kW", 1000}, {"W", 1}} {
		if number, ok := strings.CutSuffix(text, unit.name); ok {
			return setNumber(q.w, number, unit.size, "a power such as 60W or 1.5kW")
		}
	}
	return fmt.Errorf("has no unit: must be a power such as 60W or 1.5kW")
}

// percent is a fraction on the command line, written in percent.
type percent struct{ fraction *float64 }

func (q percent) String() string {
	if q.fraction == nil {
		return ""
	}
	return strconv.FormatFloat(100**q.fraction, 'g', -1, 64) + "%"
}

func (q percent) Set(text string) error {
	number, ok := strings.CutSuffix(text, "%")
	if !ok {
		return fmt.Errorf("has no unit: must be a percentage such as 4%%")
	}
	return setNumber(q.fraction, number, 0.01, "a percentage such as 4%")
}

func setNumber(to *float64, number string, size float64, want string) error {
	x, err := strconv.ParseFloat(strings.TrimSuffix(number, " "), 64)
	if err != nil || x != x || x > 1e9 || x < -1e9 {
		return fmt.Errorf("%q is no number: must be %s", number, want)
	}
	*to = x * size
	return nil
}
