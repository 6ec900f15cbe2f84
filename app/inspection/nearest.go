package inspection

import "strings"

// nearest returns the known word with the fewest edits from the given one (Levenshtein 1966).
func nearest(word string, known []string) string {
	best, least := "", 0
	word = strings.ToLower(word)
	if r := []rune(word); len(r) > 64 {
		word = string(r[:64])
	}
	for i, k := range known {
		if d := edits(word, strings.ToLower(k)); i == 0 || d < least {
			best, least = k, d
		}
	}
	return best
}

func edits(a, b string) int {
	from, to := []rune(a), []rune(b)
	row := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i, r := range from {
		diagonal := row[0]
		row[0] = i + 1
		for j, s := range to {
			cost := 1
			if r == s {
				cost = 0
			}
			diagonal, row[j+1] = row[j+1], min(diagonal+cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(to)]
}
