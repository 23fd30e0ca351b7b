package sweep

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// Knob is one thing that is varied, and the values that it may have.
type Knob struct {
	// Name is a setting of the controller or the path of a place in the scenarios.
	Name string
	// Values are those of a grid or a list, as they are written; nil for a range that a design draws from.
	Values []string

	isRange   bool
	low, high float64
	between   string // what stands between figure and unit, as it was written
	unit      string
	decimals  int // that values drawn from the range are rounded to
}

// quantity is a figure with a unit behind it.
var quantity = regexp.MustCompile(`^([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)(\s*)(\D*)$`)

// knobForms says how a knob is written.
const knobForms = "want NAME=LOW:HIGH:COUNT, such as 'apart=2%:8%:5', or NAME=WORD,WORD"

// ParseKnob reads NAME=LOW:HIGH:COUNT, NAME=LOW:HIGH or NAME=WORD,WORD. The two ends have the same unit, in which the
// values between them are written.
func ParseKnob(text string) (*Knob, error) {
	name, values, is := strings.Cut(text, "=")
	name, values = strings.TrimSpace(name), strings.TrimSpace(values)
	if !is || name == "" || values == "" {
		return nil, fmt.Errorf("found %q, %s", text, knobForms)
	}
	k := &Knob{Name: name}
	if parts := strings.Split(values, ":"); len(parts) == 2 || len(parts) == 3 {
		low, high := quantity.FindStringSubmatch(strings.TrimSpace(parts[0])), quantity.FindStringSubmatch(strings.TrimSpace(parts[1]))
		if low != nil && high != nil {
			return k, k.ends(low, high, parts[2:])
		}
	}
	k.Values = words(values)
	if len(k.Values) < 2 {
		return nil, fmt.Errorf("%s: found %q, which is one value; %s", name, values, knobForms)
	}
	for i, v := range k.Values {
		for _, w := range k.Values[:i] {
			if v == w {
				return nil, fmt.Errorf("%s: found %q twice", name, v)
			}
		}
	}
	return k, nil
}

// ends takes the two ends of a range, and how many values it has if that is said.
func (k *Knob) ends(low, high, count []string) error {
	if low[3] != high[3] {
		return fmt.Errorf("%s: found %s and %s, want the same unit at both ends", k.Name, strings.Join(low[1:], ""), strings.Join(high[1:], ""))
	}
	var err error
	if k.low, err = strconv.ParseFloat(low[1], 64); err != nil {
		return fmt.Errorf("%s: found %s, which is beyond all measure", k.Name, low[1])
	}
	if k.high, err = strconv.ParseFloat(high[1], 64); err != nil {
		return fmt.Errorf("%s: found %s, which is beyond all measure", k.Name, high[1])
	}
	if !(k.low < k.high) {
		return fmt.Errorf("%s: found %s to %s, want the lower end first", k.Name, strings.Join(low[1:], ""), strings.Join(high[1:], ""))
	}
	k.isRange, k.between, k.unit = true, low[2], low[3]
	k.decimals = max(0, 3-int(math.Floor(math.Log10(k.high-k.low))))
	if len(count) == 0 {
		return nil
	}
	n, err := strconv.Atoi(strings.TrimSpace(count[0]))
	if err != nil || n < 2 || n > mostValues {
		return fmt.Errorf("%s: found %q for how many values, want a whole number from 2 to %d", k.Name, count[0], mostValues)
	}
	for i := range n {
		// Nine digits of the range: enough for any step, and few enough that the last bits of a float do not show.
		v := k.low + (k.high-k.low)*float64(i)/float64(n-1)
		k.Values = append(k.Values, k.write(v, k.decimals+6))
	}
	return nil
}

// mostValues bounds the values of one knob.
const mostValues = 1000

// write is a figure of a range as a file or a command line has it.
func (k *Knob) write(v float64, decimals int) string {
	figure := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Contains(figure, ".") {
		figure = strings.TrimRight(strings.TrimRight(figure, "0"), ".")
	}
	if figure == "-0" {
		figure = "0"
	}
	return figure + k.between + k.unit
}

// at is the value at a coordinate from 0 up to 1.
func (k *Knob) at(x float64) string {
	if !k.isRange {
		return k.Values[min(int(x*float64(len(k.Values))), len(k.Values)-1)]
	}
	return k.write(k.low+(k.high-k.low)*x, k.decimals)
}

// Figure is the number in a value of a range; false for words.
func (k *Knob) Figure(value string) (float64, bool) {
	m := quantity.FindStringSubmatch(value)
	if !k.isRange || m == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(m[1], 64)
	return v, err == nil
}

// words splits a list at its commas, except those within brackets or quotes: {plug_in: 16 A, soc: 20 %} is one value.
func words(text string) []string {
	var list []string
	depth, quote, from := 0, rune(0), 0
	for i, r := range text {
		switch {
		case quote != 0:
			if r == quote {
				quote = 0
			}
		case r == '\'' || r == '"':
			quote = r
		case r == '{' || r == '[':
			depth++
		case r == '}' || r == ']':
			depth--
		case r == ',' && depth == 0:
			list = append(list, strings.TrimSpace(text[from:i]))
			from = i + 1
		}
	}
	return append(list, strings.TrimSpace(text[from:]))
}
