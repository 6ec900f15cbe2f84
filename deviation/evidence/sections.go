package evidence

import (
	"fmt"
	"math"
	"strconv"

	"shutline/deviation"
	"shutline/deviation/chart"
	"shutline/deviation/crosscut"
	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// A section's picture is so long, pixels, and at most so broad: as its cut is.
const sectionLong, sectionBroad = 2000, 1400

// sections writes the picture and the table of every section.
func (w *writer) sections() error {
	names := sectionFiles(w.r)
	for k, c := range w.r.Sections {
		if c.Missing != "" {
			continue
		}
		if err := w.put("section-"+names[k]+".csv", curveTable(c)); err != nil {
			return err
		}
		wide, tall := chart.SectionSheet(c, sectionLong, sectionBroad, pictureScale)
		img := chart.Section(wide, tall, chart.Light(), pictureScale, c, sectionInfo(c))
		if err := w.footed("section-"+names[k]+".png", img); err != nil {
			return err
		}
	}
	return nil
}

// sectionInfo words the plane and names its axes.
func sectionInfo(c *crosscut.Section) chart.SectionInfo {
	info := chart.SectionInfo{Title: c.Spec.Name, Plane: planeWords(c.Spec)}
	info.Across, info.AcrossAt, info.AcrossTurned = axisOf(c.Across, c.Spec.Point, "across, mm")
	info.Up, info.UpAt, info.Back = axisOf(c.Up, c.Spec.Point, "up, mm")
	return info
}

// axisOf names a direction that is an axis of the frame, and the coordinate of p along it.
func axisOf(d, p geom.Vec, other string) (name string, at float64, turned bool) {
	for k, axis := range []string{"x", "y", "z"} {
		if v := d.At(k); math.Abs(v) > 1-1e-9 {
			return axis + ", mm", p.At(k), v < 0
		}
	}
	return other, 0, false
}

func planeWords(s crosscut.Spec) string {
	n := s.Normal.Unit()
	for k, axis := range []string{"x", "y", "z"} {
		if math.Abs(n.At(k)) > 1-1e-9 {
			return fmt.Sprintf("plane %s = %s mm", axis, fixed(s.Point.At(k), 1))
		}
	}
	return fmt.Sprintf("plane through (%s, %s, %s) square to (%s, %s, %s)", fixed(s.Point.X, 1), fixed(s.Point.Y, 1), fixed(s.Point.Z, 1),
		fixed(n.X, 3), fixed(n.Y, 3), fixed(n.Z, 3))
}

const curveHeader = "curve,line,point,across_mm,up_mm,x_mm,y_mm,z_mm,deviation_mm,state"

// curveTable lists both curves, line by line, and the deviation along the scan's.
func curveTable(c *crosscut.Section) []byte {
	t := newTable(curveHeader)
	rows := func(name string, curves []crosscut.Curve) {
		for n, line := range curves {
			for k, q := range line.Points {
				p := line.Places[k]
				value, state := "", ""
				if line.State != nil {
					state = line.State[k].String()
					if line.State[k] == deviation.Measured {
						value = mm(line.Deviation[k]).String()
					}
				}
				t.row(name, strconv.Itoa(n+1), strconv.Itoa(k+1), mm(q.H).String(), mm(q.V).String(),
					mm(p.X).String(), mm(p.Y).String(), mm(p.Z).String(), value, state)
			}
		}
	}
	rows("scan", c.Scan)
	rows("reference", c.Reference)
	return t.bytes()
}

const sectionsHeader = "section,read_out,kind,value,U,unit,reference,difference,state,why,k,reference_U,reference_why"

// sectionsTable lists the read-outs of every section, and of each the figures of its deviation.
func sectionsTable(r *Record) []byte {
	t := newTable(sectionsHeader)
	for _, c := range r.Sections {
		name := guarded(c.Spec.Name)
		if c.Missing != "" {
			t.row(name, "", "section", "", "", "", "", "", "no-section", c.Missing, "", "", "")
		}
		for i := range c.Readings {
			v := readingOf(&c.Readings[i])
			state, k := "read", "2"
			if v.Scan.missing() {
				state, k = "not-read", ""
			}
			t.row(name, guarded(v.Name), v.Kind, v.Scan.String(), v.U.String(), v.Unit, v.Reference.String(), v.Difference.String(), state, v.Why, k, v.ReferenceU.String(), v.WhyReference)
		}
		f := &c.Figures
		if f.Measured == 0 {
			continue
		}
		for _, row := range []struct {
			name, unit string
			v          float64
		}{{"lowest", "mm", f.Lowest.V}, {"highest", "mm", f.Highest.V}, {"mean", "mm", f.Mean}, {"rms", "mm", f.RMS}, {"in tolerance", "share", f.InTolerance}} {
			t.row(name, row.name, "deviation", mm(row.v).String(), "", row.unit, "", "", "read", "", "", "", "")
		}
	}
	return t.bytes()
}

type sectionResult struct {
	Name        string          `json:"name"`
	Table       string          `json:"table,omitempty"` // its file
	Point       [3]num          `json:"point_mm"`
	Normal      [3]num          `json:"normal"`
	Across      [3]num          `json:"across"`
	Up          [3]num          `json:"up"`
	Length      num             `json:"scan_length_mm"`
	Points      int             `json:"points"`
	Measured    int             `json:"measured"`
	Mean        num             `json:"mean_mm"`
	RMS         num             `json:"rms_mm"`
	Lowest      num             `json:"lowest_mm"`
	Highest     num             `json:"highest_mm"`
	InTolerance num             `json:"in_tolerance"`
	Readings    []readingResult `json:"readings"`
	Note        string          `json:"note,omitempty"`
}

type readingResult struct {
	Name       string `json:"name"`
	Kind       string `json:"kind"`
	Unit       string `json:"unit"`
	Scan       num    `json:"scan"`
	U          num    `json:"U"`
	Reference  num    `json:"reference"`
	ReferenceU num    `json:"reference_U"`
	Difference num    `json:"difference"`
	Why        string `json:"why,omitempty"`

	WhyReference string `json:"reference_why,omitempty"`
}

func sectionOf(c *crosscut.Section) sectionResult {
	f := &c.Figures
	n := func(v float64) num { return num{v, mmDecimals, f.Measured > 0} }
	length := num{f.Length, mmDecimals, c.Missing == ""}
	out := sectionResult{
		Name: c.Spec.Name, Point: mm3(c.Spec.Point), Normal: mm3(c.Spec.Normal.Unit()), Across: mm3(c.Across), Up: mm3(c.Up),
		Length: length, Points: f.Points, Measured: f.Measured, Mean: n(f.Mean), RMS: n(f.RMS), Lowest: n(f.Lowest.V),
		Highest: n(f.Highest.V), InTolerance: n(f.InTolerance), Readings: []readingResult{},
	}
	if c.ReferenceMissing {
		out.Note = "the plane does not meet the reference"
	}
	if c.Missing != "" {
		out.Note = "no section here, because " + c.Missing
	}
	for i := range c.Readings {
		out.Readings = append(out.Readings, readingOf(&c.Readings[i]))
	}
	return out
}

func readingOf(r *crosscut.Reading) readingResult {
	scan, ref, unit := r.Scan, r.Reference, "mm"
	if r.Kind == "angle" {
		const degree = 180 / math.Pi
		unit = "degrees"
		scan.V, scan.U, ref.V, ref.U = scan.V*degree, scan.U*degree, ref.V*degree, ref.U*degree
	}
	both := verdict.Value{V: scan.V - ref.V, OK: scan.OK && ref.OK}
	return readingResult{Name: r.Name, Kind: r.Kind, Unit: unit, Scan: val(scan), U: valU(scan), Reference: val(ref), ReferenceU: valU(ref), Difference: val(both), Why: r.Why, WhyReference: r.WhyReference}
}
