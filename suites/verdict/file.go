package verdict

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// maxBytes caps what Read takes in: a thousand runs of thirty criteria need
// about 20 MB.
const maxBytes = 256 << 20

// Write writes the verdict as indented JSON that ends in a newline. Equal
// verdicts give equal bytes. It refuses a verdict whose derived fields
// contradict its findings; New makes none such.
func (v Verdict) Write(w io.Writer) error {
	if err := v.check(); err != nil {
		return err
	}
	var buffer bytes.Buffer
	encoder := json.NewEncoder(&buffer)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false) // It is a file for people and tools, not a web page.
	if err := encoder.Encode(v); err != nil {
		return fmt.Errorf("verdict: %w", err)
	}
	_, err := w.Write(buffer.Bytes())
	return err
}

// Read reads one verdict and nothing else: an unknown field, a wrong type,
// text after the end or a status that contradicts its flags is an error that
// says where.
func Read(r io.Reader) (Verdict, error) {
	text, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return Verdict{}, fmt.Errorf("verdict: %w", err)
	}
	if len(text) > maxBytes {
		return Verdict{}, fmt.Errorf("verdict: longer than %d MB, which no verdict is", maxBytes>>20)
	}
	var v Verdict
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&v); err != nil {
		return Verdict{}, located(err, text, decoder.InputOffset())
	}
	if rest := bytes.TrimSpace(text[decoder.InputOffset():]); len(rest) > 0 {
		return Verdict{}, fmt.Errorf("verdict: line %d: text after the end of the verdict", line(text, decoder.InputOffset()))
	}
	if err := v.check(); err != nil {
		return Verdict{}, err
	}
	for i := range v.Runs { // An absent list and an empty one are the same.
		if v.Runs[i].Criteria == nil {
			v.Runs[i].Criteria = []Criterion{}
		}
	}
	return v, nil
}

// located adds the line where encoding/json knows it.
func located(err error, text []byte, offset int64) error {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.Is(err, io.EOF):
		return errors.New("verdict: the file is empty")
	case errors.Is(err, io.ErrUnexpectedEOF):
		return fmt.Errorf("verdict: line %d: the file ends in the middle", line(text, int64(len(text))))
	case errors.As(err, &syntax):
		return fmt.Errorf("verdict: line %d: %w", line(text, syntax.Offset), err)
	case errors.As(err, &kind):
		return fmt.Errorf("verdict: line %d: %s: found a JSON %s, want %s", line(text, kind.Offset), kind.Field, kind.Value, kind.Type)
	}
	return fmt.Errorf("verdict: the value that ends on line %d: %w", line(text, offset), err)
}

func line(text []byte, offset int64) int {
	return 1 + bytes.Count(text[:min(max(offset, 0), int64(len(text)))], []byte("\n"))
}
