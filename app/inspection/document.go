package inspection

import (
	"bytes"
	"errors"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"
)

// document is a parsed file: its values, and where each of them stands. Paths
// are written seam[0].path[1]. The first thing found wrong stays in err.
type document struct {
	path   string
	data   []byte
	root   map[string]any
	keys   map[string]int // byte offset of each key
	values map[string]int // byte offset of each value
	err    *Error
}

// parse reads TOML. The error is an *Error with line and column.
func parse(path string, data []byte) (*document, error) {
	data = bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))
	if bytes.IndexByte(data, 0) >= 0 {
		return nil, &Error{Path: path, Problem: "this is not text, so it is no inspection file; name the .toml file that says what to measure"}
	}
	d := &document{path: path, data: data, keys: map[string]int{}, values: map[string]int{}}
	if err := toml.Unmarshal(data, &d.root); err != nil {
		e := &Error{Path: path, Problem: err.Error() + "; mend the TOML there"}
		var at *toml.DecodeError
		if errors.As(err, &at) {
			e.Line, e.Column = at.Position()
			e.Problem = "not valid TOML: " + bare(at.Error()) + "; mend it there" + hint(data, e.Line, e.Column, at.Error())
		}
		return nil, e
	}
	d.locate()
	return d, nil
}

// decimalComma is a number written with a comma, as where one stands in place of the point.
var decimalComma = regexp.MustCompile(`[0-9],[0-9]`)

// hint says what a habit from elsewhere has to be in TOML: a decimal comma, a path with backslashes.
func hint(data []byte, line, column int, said string) string {
	if strings.Contains(said, "escape") {
		return ": in a path write / in place of \\, or put it in single quotes"
	}
	lines := bytes.Split(data, []byte("\n"))
	if line < 1 || line > len(lines) {
		return ""
	}
	for _, at := range decimalComma.FindAllIndex(lines[line-1], -1) {
		const near = 6 // columns; the reader stops at the comma or at what follows it
		if at[0] <= column && column <= at[1]+near {
			return ": in numbers write a point, not a comma"
		}
	}
	return ""
}

func bare(message string) string {
	const prefix = "toml: "
	if len(message) > len(prefix) && message[:len(prefix)] == prefix {
		return message[len(prefix):]
	}
	return message
}

// locate walks over the syntax and notes where every key and value stands.
func (d *document) locate() {
	var p unstable.Parser
	p.Reset(d.data)
	tables := map[string]int{} // arrays of tables and how many each has so far
	current := ""
	for p.NextExpression() {
		e := p.Expression()
		switch e.Kind {
		case unstable.Table:
			current = d.enter("", e, tables)
		case unstable.ArrayTable:
			current = d.enter("", e, tables)
			tables[current]++
			current = indexed(current, tables[current]-1)
			d.note(d.keys, current, e.Child())
		case unstable.KeyValue:
			d.pair(current, e)
		}
	}
}

// enter notes the parts of a header's key and returns its path.
func (d *document) enter(path string, e *unstable.Node, tables map[string]int) string {
	for it := e.Key(); it.Next(); {
		if tooDeep(path) {
			return path
		}
		path = joined(path, string(it.Node().Data))
		d.note(d.keys, path, it.Node())
		if n := tables[path]; n > 0 && (e.Kind == unstable.Table || !it.IsLast()) {
			path = indexed(path, n-1)
		}
	}
	return path
}

func (d *document) pair(path string, e *unstable.Node) {
	end := 0
	for it := e.Key(); it.Next(); {
		if tooDeep(path) {
			return
		}
		path = joined(path, string(it.Node().Data))
		d.note(d.keys, path, it.Node())
		end = int(it.Node().Raw.Offset + it.Node().Raw.Length)
	}
	// Lists and inline tables have no place of their own in the syntax tree.
	at := end
	for at < len(d.data) && bytes.IndexByte([]byte(" \t="), d.data[at]) >= 0 {
		at++
	}
	if _, known := d.values[path]; !known {
		d.values[path] = at
	}
	d.value(path, e.Value())
}

func (d *document) value(path string, v *unstable.Node) {
	d.note(d.values, path, v)
	if tooDeep(path) {
		return
	}
	switch v.Kind {
	case unstable.Array:
		i := 0
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.Comment {
				continue
			}
			d.value(indexed(path, i), it.Node())
			d.open(indexed(path, i))
			i++
		}
	case unstable.InlineTable:
		for it := v.Children(); it.Next(); {
			if it.Node().Kind == unstable.KeyValue {
				d.pair(path, it.Node())
			}
		}
	}
}

// open notes where a list inside a list begins: at the bracket before its first value.
func (d *document) open(path string) {
	first, ok := d.values[indexed(path, 0)]
	if _, known := d.values[path]; known || !ok {
		return
	}
	if at := len(bytes.TrimRight(d.data[:first], " \t\r\n")) - 1; at >= 0 && d.data[at] == '[' {
		d.values[path] = at
	}
}

func (d *document) note(in map[string]int, path string, n *unstable.Node) {
	if _, known := in[path]; !known && n.Raw.Length > 0 {
		in[path] = int(n.Raw.Offset)
	}
}

// at returns line and column, from 1, of the value at path, else of its key,
// else of the nearest table around it. Columns count characters.
func (d *document) at(path string) (line, column int) {
	for path != "" {
		off, ok := d.values[path]
		if !ok {
			off, ok = d.keys[path]
		}
		if ok {
			return d.position(off)
		}
		path = parent(path)
	}
	return 0, 0
}

func (d *document) position(off int) (line, column int) {
	head := d.data[:min(off, len(d.data))]
	start := bytes.LastIndexByte(head, '\n') + 1
	return bytes.Count(head, []byte{'\n'}) + 1, utf8.RuneCount(head[start:]) + 1
}

// deepest is how many keys and indices of a path are followed: no known key
// needs more than five, and without a limit a file of nothing but dots or
// brackets takes the square of its length.
const deepest = 8

func tooDeep(path string) bool { return strings.Count(path, ".")+strings.Count(path, "[") > deepest }

func joined(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func indexed(path string, i int) string { return path + "[" + strconv.Itoa(i) + "]" }

func parent(path string) string {
	for i := len(path) - 1; i >= 0; i-- {
		if path[i] == '.' || path[i] == '[' {
			return path[:i]
		}
	}
	return ""
}
