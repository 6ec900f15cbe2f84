package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"

	"shutline/app"
	"shutline/deviation/seamfind"
	"shutline/deviation/seampath"
	"shutline/mesh"
	"shutline/mesh/meshio"
)

// seams finds the shut lines of a mesh and prints them as an inspection file.
func (c *command) seams(a *arguments) error {
	switch {
	case len(a.files) == 0:
		return usage("name a mesh file: shutcheck seams MESH")
	case len(a.files) > 1:
		return usage("name one mesh file, not %d (%q, %q); run the command once for each", len(a.files), a.files[0], a.files[1])
	}
	threads, err := a.threads()
	if err != nil {
		return err
	}
	unit, err := a.units()
	if err != nil {
		return err
	}
	path := a.files[0]
	reading, looking := c.part(0, 0.3, "reading "+path), c.part(0.3, 1, "looking for seams")
	if err := app.NeedRoom(path); err != nil {
		return err
	}
	l, err := meshio.Read(c.ctx, path, meshio.Options{Unit: unit, Threads: threads, Progress: reading})
	var unknown *meshio.UnitError
	switch {
	case errors.As(err, &unknown):
		return fmt.Errorf("%w; here it is --units UNIT", err)
	case err != nil:
		return err
	}
	if len(l.Mesh.Faces) == 0 {
		return &app.InputError{Path: path, Problem: "it has points but no faces, so no gap can be seen in it; export it as triangles"}
	}
	g, err := seamfind.New(c.ctx, l.Mesh, threads, looking.Part(0, 0.1))
	if err != nil {
		return err
	}
	found, err := g.Find(c.ctx, seamfind.Settings{Drawn: a.set["drawing"], OwnAxes: !a.set["drawing"], Threads: threads}, looking.Part(0.1, 1))
	if err != nil {
		return err
	}
	c.progress.clear()
	list := make([]foundSeam, len(found))
	for k := range found {
		list[k] = foundOf(&found[k])
	}
	if a.set["json"] {
		data, err := json.MarshalIndent(list, "", "  ")
		if err != nil {
			return err
		}
		c.out.text(string(data) + "\n")
		return nil
	}
	c.out.text(fragment(l, a.set["drawing"], list))
	return nil
}

// part returns the progress of one named piece of work.
func (c *command) part(lo, hi float64, what string) mesh.Progress {
	show := c.progress.part(lo, hi)
	if show == nil {
		return nil
	}
	return func(share float64) { show(what, share) }
}

// foundSeam is what is printed of a seam.
type foundSeam struct {
	Name   string       `json:"name"`
	Length float64      `json:"length_mm"`
	Gap    *float64     `json:"gap_estimate_mm"` // from nose to nose, where it was seen
	Seen   float64      `json:"seen_share"`      // of the length
	Sure   float64      `json:"sure"`            // 0 to 1
	Word   string       `json:"how_sure"`
	Groove float64      `json:"groove_share"` // of the places seen, where one surface runs down one side and up the other
	Path   [][3]float64 `json:"path"`
}

// pathWithin is how near the printed points follow the path found, mm.
const pathWithin = 0.05

func foundOf(f *seamfind.Seam) foundSeam {
	s := foundSeam{Name: f.Name, Length: rounded(f.Length(), 1), Seen: rounded(f.SeenShare(), 2), Sure: rounded(f.Sure, 2), Word: f.SureWord(), Groove: rounded(f.Grooved, 2)}
	if w, ok := f.MeanWidth(); ok {
		w = rounded(w, 2)
		s.Gap = &w
	}
	for _, p := range seampath.Rounded(seampath.Simplified(f.Path, pathWithin)) {
		s.Path = append(s.Path, [3]float64{p.X, p.Y, p.Z})
	}
	return s
}

func rounded(v float64, decimals int) float64 {
	x, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'f', decimals, 64), 64) // what was just formatted is a number
	return x
}

// fragment words the seams as an inspection file; those that are doubtful are commented out.
func fragment(l *meshio.Loaded, drawing bool, list []foundSeam) string {
	var b strings.Builder
	certain := 0
	for _, s := range list {
		if s.Sure >= seamfind.LikelyFrom {
			certain++
		}
	}
	fmt.Fprintf(&b, "# Shut lines found: %d", certain)
	if n := len(list) - certain; n > 0 {
		fmt.Fprintf(&b, ", and %d that are doubtful", n)
	}
	b.WriteString("\n")
	for _, s := range list {
		fmt.Fprintf(&b, "#   %s\n", describeSeam(s))
	}
	b.WriteString("# Side A was chosen as if the mesh's axes were the vehicle's: X rearward, Y to the right, Z up.\n")
	if file := filepath.ToSlash(l.Path); !filepath.IsAbs(l.Path) {
		fmt.Fprintf(&b, "# Files are named from the folder that this file lies in: written into another one than you are in now,\n# mend file = %q below.\n", file)
	}
	file := strconv.Quote(filepath.ToSlash(l.Path))
	units := ""
	if l.Unit != "" {
		units = fmt.Sprintf("units = %q\n", string(l.Unit))
	}
	if drawing {
		fmt.Fprintf(&b, "\n[scan]\nfile = \"SCAN.stl\" # name the scan\n\n[reference]\nfile = %s\n%s", file, units)
	} else {
		fmt.Fprintf(&b, "\n[scan]\nfile = %s\n%s", file, units)
	}
	for _, s := range list {
		var t strings.Builder
		fmt.Fprintf(&t, "[[seam]]\nname = %q\npath = [\n", s.Name)
		for _, p := range s.Path {
			fmt.Fprintf(&t, "  [%s, %s, %s],\n", coordinate(p[0]), coordinate(p[1]), coordinate(p[2]))
		}
		t.WriteString("]\n")
		if s.Gap != nil {
			fmt.Fprintf(&t, "# gap = { nominal = %.1f, tolerance = [-1.0, 1.0] } # as wide as it was found: write what is wanted\n", *s.Gap)
		}
		t.WriteString("# flush = { nominal = 0.0, tolerance = [-0.75, 0.75] }\n")
		block := t.String()
		if s.Sure < seamfind.LikelyFrom {
			block = "# " + strings.ReplaceAll(strings.TrimSuffix(block, "\n"), "\n", "\n# ") + "\n"
		}
		fmt.Fprintf(&b, "\n# %s\n%s", describeSeam(s), block)
	}
	return b.String()
}

// coordinate writes a number with a point, as TOML wants it.
func coordinate(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }

func describeSeam(s foundSeam) string {
	gap := "no width seen"
	if s.Gap != nil {
		gap = fmt.Sprintf("about %.1f mm wide", *s.Gap)
	}
	if s.Groove > 0.5 {
		gap += ", a groove in one surface"
	}
	return fmt.Sprintf("%s: %.0f mm long, %s, seen on %.0f %% of it, %s (%.2f)", s.Name, s.Length, gap, 100*s.Seen, s.Word, s.Sure)
}
