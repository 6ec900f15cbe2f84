package crosscut

import (
	"fmt"
	"math"
	"strings"
)

// Lost is a plane, or a row of planes at equal steps along an axis, that meets the scan nowhere.
type Lost struct {
	Name string // of the plane, or of the row
	Why  string // a part of a sentence that says what to change
}

// LostOf returns what has no section at all of what was asked for: planes by themselves that miss the scan, and rows of which
// every plane does. A row that runs past the scan has those that meet it.
func LostOf(sections []*Section) (list []Lost) {
	planes, cut := map[string]int{}, map[string]int{}
	var order []string
	first := map[string]*Section{}
	for _, s := range sections {
		name := RowOf(s.Spec)
		if planes[name]++; planes[name] == 1 {
			order = append(order, name)
			first[name] = s
		}
		if s.Missing == "" {
			cut[name]++
		}
	}
	for _, name := range order {
		switch s := first[name]; {
		case cut[name] > 0:
		case planes[name] == 1:
			list = append(list, Lost{s.Spec.Name, s.Missing + "; move its point, or turn its normal"})
		default:
			list = append(list, Lost{name, fmt.Sprintf("none of its %d planes meets the scan; of the first: %s; change from and to", planes[name], s.Missing)})
		}
	}
	return list
}

// RowOf returns the name of the row that a plane is one of, which its own is made of; that of a plane by itself is its own.
func RowOf(s Spec) string {
	axis, at, ok := axisPlane(s)
	if !ok {
		return s.Name
	}
	row, _ := strings.CutSuffix(s.Name, rowSuffix(axis, at))
	return row
}

// InRow returns the name of a plane square to an axis that is one of a row.
func InRow(row, axis string, at float64) string { return row + rowSuffix(axis, at) }

func rowSuffix(axis string, at float64) string { return fmt.Sprintf(" %s %.6g", axis, at) }

// axisPlane returns the axis that a plane is square to and where it lies along it, mm; ok is false for one that leans.
func axisPlane(s Spec) (axis string, at float64, ok bool) {
	n := s.Normal.Unit()
	for k, name := range []string{"x", "y", "z"} {
		if math.Abs(n.At(k)) > 1-1e-12 {
			return name, s.Point.At(k), true
		}
	}
	return "", 0, false
}
