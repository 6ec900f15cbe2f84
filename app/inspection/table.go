package inspection

import (
	"cmp"
	"fmt"
	"math"
	"sort"
	"strconv"
	"strings"
	"unicode"

	"shutline/mesh/geom"
)

// table reads the values of one table. After the first fault every getter
// returns its default and says nothing more.
type table struct {
	d    *document
	path string
	m    map[string]any
	def  func(key, text string) // notes a default that was used
}

// table opens a table whose keys must all be known.
func (d *document) table(path string, v any, def func(key, text string), known ...string) table {
	m, ok := v.(map[string]any)
	t := table{d: d, path: path, m: m, def: def}
	if v != nil && !ok {
		d.fail(path, "must be a table, not %s", kindOf(v))
		return t
	}
	var unknown []string
	for key := range m {
		if !contains(known, key) {
			unknown = append(unknown, key)
		}
	}
	if len(unknown) == 0 {
		return t
	}
	sort.Slice(unknown, func(i, j int) bool {
		return d.keys[joined(path, unknown[i])] < d.keys[joined(path, unknown[j])]
	})
	d.unknownKey(joined(path, unknown[0]), unknown[0], known)
	return t
}

func (d *document) unknownKey(path, key string, known []string) {
	if d.err != nil {
		return
	}
	line, column := 0, 0
	if off, ok := d.keys[path]; ok {
		line, column = d.position(off)
	}
	said := fmt.Sprintf("no such key; known here: %s", strings.Join(known, ", "))
	if n := nearest(key, known); nearEnough(key, n) {
		said = fmt.Sprintf("no such key; the nearest known one is %q (known here: %s)", n, strings.Join(known, ", "))
	}
	d.err = &Error{Path: d.path, Line: line, Column: column, Key: clean(path), Problem: said}
}

// fail keeps the first fault.
func (d *document) fail(path, format string, args ...any) {
	if d.err != nil {
		return
	}
	line, column := d.at(path)
	d.err = &Error{Path: d.path, Line: line, Column: column, Key: clean(path), Problem: fmt.Sprintf(format, args...)}
}

func (t table) has(key string) bool { _, ok := t.m[key]; return ok }

// fallback notes that a default was used.
func (t table) fallback(key, format string, args ...any) {
	if t.def != nil {
		t.def(joined(t.path, key), fmt.Sprintf(format, args...))
	}
}

// text returns a string without control characters.
func (t table) text(key, byDefault string) string {
	v, ok := t.m[key]
	if !ok {
		return byDefault
	}
	s, ok := v.(string)
	switch {
	case !ok:
		t.d.fail(joined(t.path, key), "must be text in quotes, not %s", kindOf(v))
	case strings.IndexFunc(s, unicode.IsControl) >= 0:
		t.d.fail(joined(t.path, key), "must not hold line ends or other control characters")
	default:
		return s
	}
	return byDefault
}

// choice returns one of the allowed words.
func (t table) choice(key, byDefault string, allowed ...string) string {
	s := t.text(key, byDefault)
	if t.has(key) && t.d.err == nil && !contains(allowed, s) {
		t.d.fail(joined(t.path, key), "%q is not known; write one of %s", s, quoted(allowed)+meant(s, allowed))
	}
	return s
}

// number returns a finite number.
func (t table) number(key string, byDefault float64) float64 {
	v, ok := t.m[key]
	if !ok {
		return byDefault
	}
	x, ok := t.d.finite(joined(t.path, key), v)
	if !ok {
		return byDefault
	}
	return x
}

// positive returns a number over 0, notNegative one of 0 or more; both in unit and at most most.
func (t table) positive(key string, byDefault, most float64, unit string) float64 {
	x := t.number(key, byDefault)
	if t.has(key) && t.d.err == nil && !(x > 0) {
		t.d.fail(joined(t.path, key), "must be more than 0 %s, not %v", unit, x)
	}
	t.atMost(key, x, most, unit)
	return x
}

func (t table) notNegative(key string, byDefault, most float64, unit string) float64 {
	x := t.number(key, byDefault)
	if t.has(key) && t.d.err == nil && x < 0 {
		t.d.fail(joined(t.path, key), "must not be negative, not %v %s", x, unit)
	}
	t.atMost(key, x, most, unit)
	return x
}

// atMost refuses a number beyond a bound, either way.
func (t table) atMost(key string, x, most float64, unit string) {
	switch {
	case !t.has(key) || t.d.err != nil:
	case x > most:
		t.d.fail(joined(t.path, key), "must be at most %.10g %s, not %v", most, unit, x)
	case x < -most:
		t.d.fail(joined(t.path, key), "must be at least %.10g %s, not %v", -most, unit, x)
	}
}

// pair returns two finite numbers.
func (t table) pair(key string, byDefault [2]float64) [2]float64 {
	v, ok := t.m[key]
	if !ok {
		return byDefault
	}
	x, ok := t.d.numbers(joined(t.path, key), v, 2)
	if !ok {
		return byDefault
	}
	return [2]float64{x[0], x[1]}
}

// rising returns two numbers of which the second is larger, both in unit and neither beyond most.
func (t table) rising(key string, byDefault [2]float64, most float64, unit string) [2]float64 {
	x := t.pair(key, byDefault)
	for _, v := range x {
		t.atMost(key, v, most, unit)
	}
	if t.has(key) && t.d.err == nil && !(x[0] < x[1]) {
		t.d.fail(joined(t.path, key), "the lower limit comes first and must be below the upper one, not [%v, %v]", x[0], x[1])
	}
	return x
}

// point returns three finite numbers; the key must be there.
func (t table) point(key string) geom.Vec {
	path := joined(t.path, key)
	v, ok := t.m[key]
	if !ok {
		t.d.fail(t.path, "%s is missing; write %s = [x, y, z] in mm", key, key)
		return geom.Vec{}
	}
	return t.d.vec(path, v)
}

func (d *document) vec(path string, v any) geom.Vec {
	x, ok := d.numbers(path, v, 3)
	if !ok {
		return geom.Vec{}
	}
	p := geom.Vec{X: x[0], Y: x[1], Z: x[2]}
	if max(math.Abs(p.X), math.Abs(p.Y), math.Abs(p.Z)) > farthest {
		d.fail(path, "lies more than %g mm from the origin", farthest)
	}
	return p
}

// farthest is the largest coordinate in mm: a thousand kilometres, as for mesh files.
const farthest = 1e9

const (
	// mostOff is the largest tolerance, nominal and reach, mm: what is a metre off is no longer that part.
	mostOff = 1000.0
	// mostNoise is the largest noise of a scanner, mm: with more no bodywork can be told from another.
	mostNoise = 10.0
)

// formOf shows a list of n numbers as a key wants it, made of the one that was written where that can be meant.
func formOf(path string, v any, n int) string {
	key := path[strings.LastIndexByte(path, '.')+1:]
	one := ""
	switch x := v.(type) {
	case int64:
		one = fmt.Sprint(x)
	case float64:
		if x == x && math.Abs(x) <= farthest {
			one = strconv.FormatFloat(x, 'f', -1, 64)
		}
	}
	minus := "-" + strings.TrimPrefix(one, "-")
	switch {
	case key == "radius":
		return fmt.Sprintf("radius = [%s, %s] (side A and B)", cmp.Or(one, "1.5"), cmp.Or(one, "1.5"))
	case key == "face":
		return "face = [2.5, 12.5]"
	case n == 2 && one != "":
		return fmt.Sprintf("%s = [%s, %s]", key, minus, strings.TrimPrefix(one, "-"))
	case n == 2:
		return fmt.Sprintf("%s = [-1.0, 1.0]", key)
	case n == 3:
		return "[x, y, z]"
	}
	return "[1, 0, 0, …]"
}

// numbers returns the n finite numbers of an array.
func (d *document) numbers(path string, v any, n int) ([]float64, bool) {
	a, ok := v.([]any)
	if !ok {
		d.fail(path, "must be a list of %d numbers, such as %s, not %s", n, formOf(path, v, n), kindOf(v))
		return nil, false
	}
	if len(a) > n && len(a) <= 2*n { // 765,58 is two of them
		d.fail(path, "must be a list of %d numbers; there are %d: in numbers write a point, not a comma", n, len(a))
		return nil, false
	}
	if len(a) != n {
		d.fail(path, "must be a list of %d numbers; there are %d", n, len(a))
		return nil, false
	}
	out := make([]float64, n)
	for i, e := range a {
		if out[i], ok = d.finite(indexed(path, i), e); !ok {
			return nil, false
		}
	}
	return out, true
}

func (d *document) finite(path string, v any) (float64, bool) {
	x := 0.0
	switch n := v.(type) {
	case int64:
		x = float64(n)
	case float64:
		x = n
	case string:
		if point := strings.Replace(strings.TrimSpace(n), ",", ".", 1); point != "" {
			if _, err := strconv.ParseFloat(point, 64); err == nil {
				d.fail(path, "must be a number, not text; write %s, without quotes and with a point", point)
				return 0, false
			}
		}
		d.fail(path, "must be a number, not %s", kindOf(v))
		return 0, false
	default:
		d.fail(path, "must be a number, not %s", kindOf(v))
		return 0, false
	}
	if math.IsNaN(x) || math.IsInf(x, 0) {
		d.fail(path, "must be a finite number, not %v", x)
		return 0, false
	}
	if x == 0 {
		x = 0 // no negative zero
	}
	return x, true
}

// flag returns true or false; a key that is left out is false.
func (t table) flag(key string) bool {
	v, ok := t.m[key]
	if !ok {
		return false
	}
	b, ok := v.(bool)
	if !ok {
		t.d.fail(joined(t.path, key), "must be true or false, not %s", kindOf(v))
	}
	return b
}

// list returns the tables of an array of tables.
func (t table) list(key string) []any {
	v, ok := t.m[key]
	if !ok {
		return nil
	}
	a, ok := v.([]any)
	if !ok {
		t.d.fail(joined(t.path, key), "must be written [[%s]], once for each, not as %s", key, kindOf(v))
	}
	return a
}

// kindOf names a TOML value's kind for a message.
func kindOf(v any) string {
	switch x := v.(type) {
	case string:
		return "text"
	case bool:
		return fmt.Sprint(x)
	case int64, float64:
		return "a number"
	case []any:
		return "a list"
	case map[string]any:
		return "a table"
	}
	return "a date or time"
}

// clean makes a key of a file safe to print.
func clean(key string) string {
	const most = 80
	s := strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return '?'
	}, key)
	if len([]rune(s)) > most {
		s = string([]rune(s)[:most]) + "…"
	}
	return s
}

func contains(list []string, s string) bool {
	for _, e := range list {
		if e == s {
			return true
		}
	}
	return false
}

func quoted(words []string) string {
	q := make([]string, len(words))
	for i, w := range words {
		q[i] = fmt.Sprintf("%q", w)
	}
	return strings.Join(q, ", ")
}
