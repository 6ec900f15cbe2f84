package demo

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"math"
	"strconv"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

// number writes mm or degrees to a millionth; never "-0".
func number(x float64) string { return string(appendNumber(nil, x)) }

func appendNumber(b []byte, x float64) []byte {
	r := math.Round(x * 1e6)
	return strconv.AppendFloat(b, (r+0)/1e6, 'f', 6, 64)
}

// writeTruth writes the motion and what is wrong, in words.
func writeTruth(w io.Writer, job *bodywork.Job) error {
	g := job.ReferenceFromScan
	t := struct {
		Format   int            `json:"format"`
		Seed     uint64         `json:"seed"`
		Size     int            `json:"size"`
		Noise    float64        `json:"noise_mm"`
		Motion   [4][4]float64  `json:"reference_from_scan"`
		Scan     map[string]int `json:"scan"`
		Ref      map[string]int `json:"reference"`
		Defects  []string       `json:"defects"`
		Meanings string         `json:"meanings"`
	}{
		Format: 1, Seed: job.Options.Seed, Size: job.Options.Size, Noise: job.Options.Noise,
		Scan:    map[string]int{"vertices": len(job.Scan.Vertices), "triangles": len(job.Scan.Faces)},
		Ref:     map[string]int{"vertices": len(job.Reference.Vertices), "triangles": len(job.Reference.Faces)},
		Defects: job.Defects,
		Meanings: "p_reference = R p_scan + t, row by row, mm. Deviations and stations are computed from the formula of " +
			"the bodywork, not from its meshes; an empty cell is a place without a number.",
	}
	for i, row := range g.R {
		t.Motion[i] = [4]float64{row[0], row[1], row[2], g.T.At(i)}
	}
	t.Motion[3][3] = 1
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	return e.Encode(t)
}

// writeSurface writes every scan vertex's distance to the drawing.
func writeSurface(w io.Writer, job *bodywork.Job, surface []bodywork.SurfaceTruth) error {
	if _, err := io.WriteString(w, "vertex,panel,part,deviation_mm,clear\n"); err != nil {
		return err
	}
	panels := [...]string{"", "wing", "door", "quarter"}
	var line []byte
	for i, s := range surface {
		o := job.Origins[i]
		line = strconv.AppendInt(line[:0], int64(i), 10)
		line = append(line, ',')
		line = append(line, panels[o.Panel+1]...)
		line = append(line, ',')
		line = append(line, o.Part.String()...)
		line = append(line, ',')
		if s.Measured {
			line = appendNumber(line, s.Deviation)
		}
		line = append(line, ',')
		line = strconv.AppendBool(line, s.Clear || !s.Measured)
		line = append(line, '\n')
		if _, err := w.Write(line); err != nil {
			return err
		}
	}
	return nil
}

// stationColumns heads the table of stations.
var stationColumns = []string{
	"of", "seam", "station", "along_mm", "x_mm", "y_mm", "z_mm", "gap_mm", "feeler_mm", "flush_mm", "angle_deg",
	"shoulder_a_x_mm", "shoulder_a_y_mm", "shoulder_a_z_mm", "nose_a_x_mm", "nose_a_y_mm", "nose_a_z_mm", "radius_a_mm",
	"shoulder_b_x_mm", "shoulder_b_y_mm", "shoulder_b_z_mm", "nose_b_x_mm", "nose_b_y_mm", "nose_b_z_mm", "radius_b_mm",
	"nose_arc_a_deg", "nose_arc_b_deg", "seen_to_a_deg", "seen_to_b_deg", "arc_points_a", "arc_points_b", "face_share_a", "face_share_b",
	"nose_a", "nose_b", "state", "state_clear",
}

// writeStations writes the figures of every station, of the scan and of the reference.
func writeStations(w io.Writer, job *bodywork.Job, scan []bodywork.StationTruth) error {
	c := csv.NewWriter(w)
	c.UseCRLF = false
	if err := c.Write(stationColumns); err != nil {
		return err
	}
	for _, s := range scan {
		if err := c.Write(stationRow("scan", s)); err != nil {
			return err
		}
	}
	for _, s := range job.ReferenceStations() {
		if err := c.Write(stationRow("reference", s)); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func stationRow(of string, s bodywork.StationTruth) []string {
	const degree = math.Pi / 180
	row := []string{of, s.Seam, strconv.Itoa(s.Index), number(s.Along)}
	vec := func(p geom.Vec) { row = append(row, number(p.X), number(p.Y), number(p.Z)) }
	vec(s.P)
	row = append(row, number(s.Gap), number(s.Feeler), number(s.Flush), number(s.Angle/degree))
	for k := range 2 {
		vec(s.Shoulder[k])
		vec(s.Nose[k])
		row = append(row, number(s.Radius[k]))
	}
	for _, pair := range [][2]float64{{s.NoseArc[0] / degree, s.NoseArc[1] / degree}, {s.SeenTo[0] / degree, s.SeenTo[1] / degree}} {
		row = append(row, number(pair[0]), number(pair[1]))
	}
	row = append(row, strconv.Itoa(s.ArcPoints[0]), strconv.Itoa(s.ArcPoints[1]), number(s.FaceShare[0]), number(s.FaceShare[1]))
	return append(row, s.NoseState[0], s.NoseState[1], s.State, strconv.FormatBool(s.Clear))
}
