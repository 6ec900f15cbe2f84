package bench

import (
	"os"
	"path/filepath"
	"regexp"
	"time"
)

// What a job is first written to lies beside its file until it is whole. A program that is killed meanwhile leaves it there.

// unfinishedPattern is the name of such a file, with a number for the star.
const unfinishedPattern = ".shutline-*.toml"

var unfinishedName = regexp.MustCompile(`^\.shutline-[0-9]+\.toml$`)

// abandonedAfter is the age at which such a file belongs to nobody any more: writing it takes less than a second, on
// a slow share some. Were one still written to, its save would fail and be said to have.
const abandonedAfter = 10 * time.Minute

// sweep removes what killed programs left in a folder. What cannot be removed does no harm.
func sweep(dir string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range entries {
		if !e.Type().IsRegular() || !unfinishedName.MatchString(e.Name()) {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > abandonedAfter {
			_ = os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}
