package ui

import (
	"errors"
	"strings"
	"unicode"
	"unicode/utf8"

	"fyne.io/fyne/v2/lang"

	"shutline/app/inspection"
	"shutline/app/words"
)

// tr returns a text of the window in the user's language.
func tr(key, fallback string) string { return lang.X(key, fallback) }

// trf is tr for a text with fields.
func trf(key, fallback string, data map[string]any) string {
	return lang.X(key, fallback, localised(data))
}

// writer words results in the user's language.
func writer() words.Writer {
	return words.Writer{Window: true, Translate: func(key, fallback string, data map[string]any) string {
		s := lang.X(key, fallback, localised(data))
		if namesKey(fallback) {
			s = namedAsSettings(s)
		}
		return s
	}}
}

// asSentence begins a text with a capital, unless with the name of a file, and ends it with a full stop.
func asSentence(s string) string {
	if word, _, _ := strings.Cut(s, " "); !strings.ContainsAny(word, "./\\") {
		first, size := utf8.DecodeRuneInString(s)
		s = string(unicode.ToUpper(first)) + s[size:]
	}
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") {
		s += "."
	}
	return s
}

// checked returns, as a sentence, what an inspection file would refuse about the
// job after a change; nil when it may be made.
func (w *Window) checked(change func(*inspection.Inspection)) error {
	err := w.bench.Check(change)
	var refused *inspection.Error
	if errors.As(err, &refused) {
		return errors.New(asSentence(told(refused.Problem)))
	}
	return err
}
