package emulator

import (
	"cmp"
	"errors"
	"fmt"
	"net"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// SplitCommand splits a command line into words. Single and double quotes keep blanks together,
// and a backslash outside single quotes takes the next character as it is; there are no
// variables and no patterns.
func SplitCommand(line string) ([]string, error) {
	var words []string
	var word strings.Builder
	inWord, quote := false, rune(0)
	escaped := false
	for _, r := range line {
		switch {
		case escaped:
			word.WriteRune(r)
			escaped = false
		case r == '\\' && quote != '\'':
			escaped, inWord = true, true
		case quote != 0:
			if r == quote {
				quote = 0
			} else {
				word.WriteRune(r)
			}
		case r == '\'' || r == '"':
			quote, inWord = r, true
		case r == ' ' || r == '\t' || r == '\n':
			if inWord {
				words = append(words, word.String())
				word.Reset()
				inWord = false
			}
		default:
			word.WriteRune(r)
			inWord = true
		}
	}
	if quote != 0 || escaped {
		return nil, fmt.Errorf("controller command %q: a quote or a backslash is left open at the end", line)
	}
	if inWord {
		words = append(words, word.String())
	}
	if len(words) == 0 {
		return nil, errors.New("the controller command is empty; give a program, such as 'python3 mine.py'")
	}
	return words, nil
}

// placeholder is where a command asks for something of the bench file.
var placeholder = regexp.MustCompile(`\{(bench|pace|[a-z][a-z0-9_-]*\.(?:address|host|port|unit))\}`)

// FillIn puts what the bench file says into a command's words: {bench} is the path of the file and {pace} its pace;
// {north.address}, {north.host}, {north.port} and {north.unit} tell where the device north answers, and {clock.address}
// and so on where the bench clock does. Other braces stay as they are.
func FillIn(words []string, f File, path string) ([]string, error) {
	filled := make([]string, len(words))
	var wrong error
	for i, w := range words {
		filled[i] = placeholder.ReplaceAllStringFunc(w, func(asked string) string {
			value, err := f.placed(strings.Trim(asked, "{}"), path)
			wrong = cmp.Or(wrong, err)
			return value
		})
	}
	return filled, wrong
}

// placed is what stands in the place of a placeholder.
func (f *File) placed(asked, path string) (string, error) {
	switch asked {
	case "bench":
		return path, nil
	case "pace":
		return f.Pace, nil
	}
	name, what, _ := strings.Cut(asked, ".")
	address, unit := f.Clock.Address, f.Clock.Unit
	if name != "clock" {
		names := []string{"clock"}
		i := slices.IndexFunc(f.Devices, func(d FileDevice) bool { names = append(names, d.Name); return d.Name == name })
		if i < 0 {
			return "", fmt.Errorf("{%s} in the controller's command: the bench has no device called %s on the wire; it has %s", asked, name, strings.Join(names, ", "))
		}
		address, unit = f.Devices[i].Address, f.Devices[i].Unit
	}
	host, port, err := net.SplitHostPort(address)
	switch {
	case what == "unit":
		return strconv.Itoa(int(unit)), nil
	case what == "address":
		return address, nil
	case err != nil:
		return "", fmt.Errorf("{%s} in the controller's command: %s answers at %s, which has neither host nor port; ask for {%s.address}", asked, name, address, name)
	case what == "host":
		return host, nil
	}
	return port, nil
}
