package evidence

import (
	"math"
	"strconv"

	"shutline/deviation/verdict"
	"shutline/mesh/geom"
)

// The decimals of the files.
const (
	mmDecimals       = 6 // a nanometre: below any scanner, above float64's rounding at 10 m
	degDecimals      = 6
	rotationDecimals = 9 // 1e-9 degrees move a point 4 m away by 7e-8 mm
	ppmDecimals      = 3
)

// appendFixed appends v with the given decimals; a value that rounds to zero has no sign.
func appendFixed(b []byte, v float64, decimals int) []byte {
	from := len(b)
	b = strconv.AppendFloat(b, v, 'f', decimals, 64)
	if b[from] != '-' {
		return b
	}
	for _, c := range b[from+1:] {
		if c != '0' && c != '.' {
			return b
		}
	}
	return append(b[:from], b[from+1:]...)
}

// num is a number of the files: missing when ok is false.
type num struct {
	v        float64
	decimals int // -1: shortest that reads back
	ok       bool
}

// mm3 returns a place's coordinates in mm.
func mm3(p geom.Vec) [3]num { return [3]num{mm(p.X), mm(p.Y), mm(p.Z)} }

func mm(v float64) num { return num{v, mmDecimals, true} }

func val(x verdict.Value) num { return num{x.V, mmDecimals, x.OK} }

func valU(x verdict.Value) num { return num{x.U, mmDecimals, x.OK} }

func exact(v float64) num { return num{v, -1, true} }

func (n num) missing() bool { return !n.ok || math.IsNaN(n.v) || math.IsInf(n.v, 0) }

// String returns the cell, empty for a missing number.
func (n num) String() string {
	if n.missing() {
		return ""
	}
	if n.decimals < 0 {
		v := n.v
		if v == 0 {
			v = 0
		}
		return strconv.FormatFloat(v, 'g', -1, 64)
	}
	return string(appendFixed(nil, n.v, n.decimals))
}

// MarshalJSON writes the same digits as the tables, null for a missing number.
func (n num) MarshalJSON() ([]byte, error) {
	if n.missing() {
		return []byte("null"), nil
	}
	return []byte(n.String()), nil
}
