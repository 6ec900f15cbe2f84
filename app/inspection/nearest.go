package inspection

import (
	"fmt"
	"strings"
)

// nearEnough reports whether a word may well be a slip of the other: at most a third of its letters, and never
// another number, for "hem 48" is not "hem 50" mistyped.
func nearEnough(word, known string) bool {
	a, b := []rune(strings.ToLower(word)), []rune(strings.ToLower(known))
	if digits(a) != digits(b) && digits(a) != "" && digits(b) != "" {
		return false
	}
	slips := edits(string(a), string(b))
	if one, plural := strings.CutSuffix(string(a), "s"); plural && !strings.HasSuffix(string(b), "s") {
		slips = min(slips, edits(one, string(b))) // more than one of it is no slip
	}
	return 3*slips <= max(len(a), len(b), 3)
}

func digits(word []rune) string {
	return strings.Map(func(r rune) rune {
		if r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, string(word))
}

// meant names the known word that was probably meant, to stand at a sentence's end; it is empty where none is near.
func meant(word string, known []string) string {
	if n := nearest(word, known); nearEnough(word, n) {
		return fmt.Sprintf("; did you mean %q?", n)
	}
	return ""
}

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
