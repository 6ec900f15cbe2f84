package main

import (
	"encoding/json"
	"io"
	"log"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"

	_ "shutline/cmd/shutline/tongue" // before the toolkit looks for a language
)

// harmless begins the toolkit's complaints that tell a user nothing: a desktop
// that names no folder for videos, say.
var harmless = []string{
	"Fyne error:  Getting favorite locations",
	"Fyne error:  Preferences load error", // it looks at them while it writes them; what cannot be read was mended before
}

// quiet leaves harmless complaints of the toolkit out of what goes to standard
// error. Each comes in up to three lines, each written by itself.
type quiet struct {
	to   io.Writer
	more bool // the lines that belong to a complaint left out may follow
}

// Write is part of io.Writer.
func (q *quiet) Write(line []byte) (int, error) {
	text := string(line)
	for _, begin := range harmless {
		if strings.Contains(text, begin) {
			q.more = true
			return len(line), nil
		}
	}
	if q.more && (strings.Contains(text, "  Cause:") || strings.Contains(text, "  At:")) {
		return len(line), nil
	}
	q.more = false
	return q.to.Write(line)
}

// silence keeps what the toolkit says to itself off the terminal.
func silence() {
	log.SetOutput(&quiet{to: os.Stderr})
	if path := preferencesFile(); path != "" {
		mendPreferences(path)
	}
}

// preferencesFile is where the toolkit keeps the program's preferences; "" where that is not known.
func preferencesFile() string {
	dir, err := os.UserConfigDir()
	if err != nil || runtime.GOOS == "darwin" {
		return ""
	}
	return filepath.Join(dir, "fyne", appID, "preferences.json")
}

// mendPreferences begins preferences anew that cannot be read: the toolkit leaves an empty file when the program is ended while it
// starts, and complains about it ever after; and it takes the items of a list for what the first of them is, or ends the program.
func mendPreferences(path string) {
	data, err := os.ReadFile(path)
	var values map[string]any
	if err != nil || json.Unmarshal(data, &values) == nil && !anyMixed(values) {
		return
	}
	_ = os.WriteFile(path, []byte("{}\n"), 0o600) // as good as none; the window opens without
}

// anyMixed reports whether a list among values has items of several kinds.
func anyMixed(values map[string]any) bool {
	for _, v := range values {
		list, _ := v.([]any)
		for _, item := range list {
			if reflect.TypeOf(item) != reflect.TypeOf(list[0]) {
				return true
			}
		}
	}
	return false
}
