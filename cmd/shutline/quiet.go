package main

import (
	"encoding/json"
	"io"
	"log"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	_ "shutline/cmd/shutline/tongue" // before the toolkit looks for a language
)

// harmless begins the toolkit's complaints that tell a user nothing: a desktop
// that names no folder for videos, say.
var harmless = []string{"Fyne error:  Getting favorite locations"}

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

// mendPreferences begins preferences anew that cannot be read: the toolkit
// leaves an empty file when the program is ended while it starts, and complains about it ever after.
func mendPreferences(path string) {
	data, err := os.ReadFile(path)
	if err != nil || json.Valid(data) {
		return
	}
	_ = os.WriteFile(path, []byte("{}\n"), 0o600) // as good as none; the window opens without
}
