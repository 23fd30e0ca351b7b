package criteria

import "fmt"

// nameOf is what a battery, by its place in the samples, is called.
func nameOf(names []string, i int) string {
	if i < len(names) {
		return names[i]
	}
	return fmt.Sprintf("battery %d", i+1)
}

// wantNames asks for the batteries that a criterion keeps books of.
func wantNames(criterion string, names []string) error {
	if len(names) > 0 {
		return nil
	}
	return fmt.Errorf("%s: names is empty, but must name each inverter in the samples' order", criterion)
}
