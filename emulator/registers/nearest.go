package registers

// nearest returns the known word within a third of the word's length in edits, or "" where none is that close.
func nearest(word string, known []string) string {
	// A long word is no slip of the fingers, and the comparison costs the product of the lengths.
	if len(word) > 40 {
		return ""
	}
	best, bestDistance := "", (len(word)+1)/3+1
	for _, candidate := range known {
		if d := editDistance(word, candidate); d < bestDistance {
			best, bestDistance = candidate, d
		}
	}
	return best
}

// editDistance counts the insertions, deletions and substitutions that turn a into b (Levenshtein).
func editDistance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			substitute := diagonal
			if a[i] != b[j] {
				substitute++
			}
			diagonal = row[j+1]
			row[j+1] = min(substitute, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
