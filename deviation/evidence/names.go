package evidence

import (
	"fmt"
	"regexp"
	"strings"
	"unicode"
)

// mostNameRunes keeps a file name within every file system's 255 bytes.
const mostNameRunes = 48

// fileNames returns NAME of the contract for each seam: lower case, everything
// but letters and digits turned into "-", made unique by a number at the end.
func fileNames(names []string) []string {
	taken := map[string]bool{}
	out := make([]string, len(names))
	for i, name := range names {
		slug := slugOf(name)
		unique := slug
		for k := 2; taken[folded(unique)]; k++ {
			unique = fmt.Sprintf("%s-%d", slug, k)
		}
		taken[folded(unique)] = true
		out[i] = unique
	}
	return out
}

// folded is what file systems that do not tell upper from lower case take a name for: letters may have two lower forms.
func folded(name string) string { return strings.ToLower(strings.ToUpper(name)) }

// seamFiles returns the NAME of every seam's pictures.
func seamFiles(r *Record) []string {
	names := make([]string, len(r.Seams))
	for k, s := range r.Seams {
		names[k] = s.Seam.Name
	}
	return fileNames(names)
}

// sectionFiles returns the NAME of every section's picture and table.
func sectionFiles(r *Record) []string {
	names := make([]string, len(r.Sections))
	for k, c := range r.Sections {
		names[k] = c.Spec.Name
	}
	return fileNames(names)
}

// seamPicture is the file of a seam's picture; those of its stations have the same NAME.
func seamPicture(name string) string { return "seam-" + name + ".png" }

func slugOf(name string) string {
	slug := strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return '-'
	}, strings.ToLower(name))
	if runes := []rune(slug); len(runes) > mostNameRunes {
		slug = string(runes[:mostNameRunes])
	}
	if slug == "" {
		return "seam"
	}
	return slug
}

// pictureName matches the names that pictures get: what does not match is never removed.
var pictureName = regexp.MustCompile(`^(heat|uncertainty|difference|seam|station|section)-[\p{L}\p{Nd}-]+\.png$`)

// tableNames are the files with fixed names.
var tableNames = []string{"results.json", "run.json", "placement.csv", "placements.csv", "surface.csv", "surface-summary.csv", "clusters.csv", "points.csv", "stations.csv", "stations-budget.csv", "seams.csv", "checks.csv", "paths.csv", "sections.csv", "lengths.csv",
	"difference.csv", "changes.csv", "station-changes.csv", "point-changes.csv"}

// sectionTableName matches the tables of sections.
var sectionTableName = regexp.MustCompile(`^section-[\p{L}\p{Nd}-]+\.csv$`)

// ours reports whether a name is one that this package gives to a file.
func ours(name string) bool {
	for _, t := range tableNames {
		if name == t {
			return true
		}
	}
	return pictureName.MatchString(name) || sectionTableName.MatchString(name)
}
