package ui

import (
	"fyne.io/fyne/v2/lang"

	"shutline/app/words"
)

// tr returns a text of the window in the user's language.
func tr(key, fallback string) string { return lang.X(key, fallback) }

// trf is tr for a text with fields.
func trf(key, fallback string, data map[string]any) string { return lang.X(key, fallback, data) }

// writer words results in the user's language.
func writer() words.Writer {
	return words.Writer{Translate: func(key, fallback string, data map[string]any) string {
		return lang.X(key, fallback, data)
	}}
}
