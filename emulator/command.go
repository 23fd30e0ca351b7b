package emulator

import (
	"errors"
	"fmt"
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
