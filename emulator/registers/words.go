package registers

// WordOf names a value of a signal that is a state; it is none where the signal is a quantity.
func (s Signal) WordOf(value float64) (word string, is bool) {
	for _, w := range stateWords(s) {
		if w.value == value {
			return w.word, true
		}
	}
	return "", false
}

// ValueOf is the value of a state that has a name.
func (s Signal) ValueOf(word string) (value float64, is bool) {
	for _, w := range stateWords(s) {
		if w.word == word {
			return w.value, true
		}
	}
	return 0, false
}

// IsRating tells whether the signal is on the nameplate and never changes.
func (s Signal) IsRating() bool { return s >= RatedPower && s <= UsableCapacity }
