package main

import (
	"bytes"
	"io"
	"strings"
	"unicode/utf8"
)

// steady writes rows of tab-separated cells in columns that stay as wide as they were when its rows are flushed one by one, as a tabwriter's do
// not: what is known is seen at once, and stands under its heading.
type steady struct {
	out    io.Writer
	rows   bytes.Buffer
	widths []int
}

func (s *steady) Write(p []byte) (int, error) { return s.rows.Write(p) }

// Flush writes the rows gathered; errors are those of the writer behind.
func (s *steady) Flush() error {
	text := strings.TrimSuffix(s.rows.String(), "\n")
	s.rows.Reset()
	if text == "" {
		return nil
	}
	lines := strings.Split(text, "\n")
	for _, line := range lines {
		cells := strings.Split(line, "\t")
		for i, c := range cells[:len(cells)-1] {
			if i == len(s.widths) {
				s.widths = append(s.widths, 0)
			}
			s.widths[i] = max(s.widths[i], utf8.RuneCountInString(c))
		}
	}
	var padded strings.Builder
	for _, line := range lines {
		var row strings.Builder
		cells := strings.Split(line, "\t")
		for i, c := range cells {
			row.WriteString(c)
			if i < len(cells)-1 { // the last one, a title perhaps, may be wider than its column
				row.WriteString(strings.Repeat(" ", s.widths[i]-utf8.RuneCountInString(c)+2))
			}
		}
		padded.WriteString(strings.TrimRight(row.String(), " ") + "\n")
	}
	_, err := io.WriteString(s.out, padded.String())
	return err
}
