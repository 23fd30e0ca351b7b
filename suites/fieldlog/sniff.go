package fieldlog

import (
	"bytes"
	"strings"
)

// layout is how a text file is written.
type layout struct {
	delimiter rune
	decimal   byte // '.' or ','
	skip      int  // lines before the header
	fields    int
	names     []string
	units     []string // of a line of units under the header; nil without one
}

var delimiters = []rune{';', '\t', '|', ','}

// sniff looks at the first lines of a file.
func sniff(head []byte) (layout, string) {
	lines := strings.Split(strings.ReplaceAll(string(head), "\r\n", "\n"), "\n")
	if len(lines) > 1 {
		lines = lines[:len(lines)-1] // the last may be cut
	}
	if len(lines) > 60 {
		lines = lines[:60]
	}
	l := layout{decimal: '.'}
	best := 0
	for _, d := range delimiters {
		counts := map[int]int{}
		for _, line := range lines {
			if n := strings.Count(outsideQuotes(line), string(d)) + 1; n > 1 && !comment(line) {
				counts[n]++
			}
		}
		// Of a comma that is a decimal sign, there is one a value: the others go first.
		for n, c := range counts {
			if c > best && c*2 >= len(lines)-len(lines)/3 || c == best && c > 0 && l.delimiter == d && n > l.fields {
				best, l.delimiter, l.fields = c, d, n
			}
		}
		if best > 0 {
			break
		}
	}
	if l.delimiter == 0 {
		return l, "no two columns"
	}
	for i, line := range lines {
		cells := split(line, l.delimiter)
		if len(cells) != l.fields || comment(line) && i+1 < len(lines) && len(split(lines[i+1], l.delimiter)) == l.fields && words(split(lines[i+1], l.delimiter)) {
			continue
		}
		if !words(cells) {
			return l, "values where names of columns are due"
		}
		l.skip, l.names = i, cells
		if i+1 < len(lines) {
			if next := split(lines[i+1], l.delimiter); len(next) == l.fields && unitLine(next) {
				l.units = next
			}
		}
		break
	}
	if l.names == nil {
		return l, "no line with names of columns"
	}
	first := l.skip + 1
	if l.units != nil {
		first++
	}
	l.decimal = decimalSign(lines[min(first, len(lines)):], l.delimiter)
	return l, ""
}

func comment(line string) bool { return strings.HasPrefix(line, "#") || strings.TrimSpace(line) == "" }

// outsideQuotes leaves out what stands in double quotes.
func outsideQuotes(line string) string {
	if !strings.Contains(line, `"`) {
		return line
	}
	var b strings.Builder
	for i, part := range strings.Split(line, `"`) {
		if i%2 == 0 {
			b.WriteString(part)
		}
	}
	return b.String()
}

func split(line string, d rune) []string {
	var cells []string
	var b strings.Builder
	quoted := false
	for _, r := range line {
		switch {
		case r == '"':
			quoted = !quoted
		case r == d && !quoted:
			cells = append(cells, strings.TrimSpace(b.String()))
			b.Reset()
		default:
			b.WriteRune(r)
		}
	}
	cells = append(cells, strings.TrimSpace(b.String()))
	cells[0] = strings.TrimSpace(strings.TrimPrefix(cells[0], "#"))
	return cells
}

// words says whether most cells are names and not values.
func words(cells []string) bool {
	n := 0
	for _, c := range cells {
		if c == "" || !strings.ContainsAny(c[:1], "0123456789+-.,") {
			n++
		}
	}
	empty := strings.Join(cells, "") == ""
	return !empty && n*2 > len(cells)
}

// decimalSign looks for numbers with a comma.
func decimalSign(lines []string, d rune) byte {
	commas, points := 0, 0
	for _, line := range lines {
		for _, c := range split(line, d) {
			if strings.ContainsAny(c, ":/") || strings.Count(c, "-") > 1 {
				continue
			}
			switch {
			case strings.Count(c, ",") == 1 && digits(strings.Replace(strings.ReplaceAll(c, ".", ""), ",", "", 1)):
				commas++
			case strings.Count(c, ".") == 1 && digits(strings.Replace(c, ".", "", 1)):
				points++
			}
		}
	}
	if commas > points {
		return ','
	}
	return '.'
}

func digits(s string) bool {
	s = strings.TrimLeft(s, "+-")
	return s != "" && strings.Trim(s, "0123456789") == ""
}

var utf8Mark = []byte("\xef\xbb\xbf")

func wideText(head []byte) bool {
	return bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff"))
}
