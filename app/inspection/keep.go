package inspection

import (
	"bytes"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
)

// EncodeOver is [Inspection.Encode] for a file that was written before: what did
// not change keeps its place, its form and its comments, and what the file leaves to
// a default stays left to it. old is that file's text and oldPath its path; a text
// that is no inspection file is written over. Comments of what is taken out go with it.
func (i *Inspection) EncodeOver(dir string, old []byte, oldPath string) ([]byte, error) {
	fresh, err := i.Encode(dir)
	if err != nil || len(old) == 0 {
		return fresh, err
	}
	before, err := Decode(old, oldPath)
	if err != nil {
		return fresh, nil
	}
	was, err := before.Encode(filepath.Dir(oldPath))
	if err != nil {
		return fresh, nil
	}
	old = bytes.ReplaceAll(old, []byte("\r\n"), []byte("\n"))
	merged, ok := merge(string(old), string(was), string(fresh))
	if ok {
		// What was merged must say exactly what was meant.
		if got, err := Decode([]byte(merged), filepath.Join(dir, "inspection.toml")); err == nil {
			if again, err := got.Encode(dir); err == nil && bytes.Equal(again, fresh) {
				return []byte(merged), nil
			}
		}
	}
	return []byte(withComments(string(fresh), string(old))), nil
}

// withComments puts the comments of a text that cannot be merged before and behind another one.
func withComments(fresh, old string) string {
	blocks := split(old)
	var head, rest []string
	for n, b := range blocks {
		for k, s := range b.list {
			switch lines := s.comments(); {
			case n == 0 && k == 0 || n == 0 && b.onlyComments(k):
				head = append(head, lines...)
			default:
				rest = append(rest, lines...)
			}
		}
	}
	if head != nil {
		fresh = strings.Join(head, "\n") + "\n\n" + fresh
	}
	if rest != nil {
		fresh += "\n# Comments that stood elsewhere in this file:\n" + strings.Join(rest, "\n") + "\n"
	}
	return fresh
}

// onlyComments reports whether nothing but comments and empty lines stands up to statement k.
func (b *block) onlyComments(k int) bool {
	for _, s := range b.list[:k+1] {
		if s.kind == pairLine || s.kind == headerLine {
			return false
		}
	}
	return true
}

// The kinds of statements.
const (
	emptyLine = iota
	commentLine
	headerLine
	pairLine
)

// statement is a line of a TOML text, or the lines of a key with a value that takes several.
type statement struct {
	kind        int
	text        string // with its line end
	path        string // of a header or a pair, parts joined by a dot
	array       bool   // of a header
	from, until int    // the value of a pair, in text
}

// comments returns the comments in a statement, each with its sign.
func (s statement) comments() (list []string) {
	if s.kind == commentLine {
		return []string{strings.TrimSpace(s.text)}
	}
	if s.kind == emptyLine {
		return nil
	}
	walk(s.text, func(at int, inside bool) bool {
		if !inside && s.text[at] == '#' {
			line, _, _ := strings.Cut(s.text[at:], "\n")
			list = append(list, strings.TrimRight(line, " \t"))
		}
		return true
	})
	return list
}

// block is a header with what stands under it; the first has none. Comments right above a header belong to it.
type block struct {
	path  string
	array bool
	index int // among the array's blocks of the same path
	name  string
	list  []statement
}

// walk goes over a text byte by byte; inside: in a string or a comment, but not at its first sign. It ends when see returns false.
func walk(text string, see func(at int, inside bool) bool) {
	quote := ""
	comment := false
	for at := 0; at < len(text); at++ {
		switch {
		case comment:
			if text[at] == '\n' {
				comment = false
				if !see(at, false) {
					return
				}
				continue
			}
		case quote != "":
			if text[at] == '\\' && quote[0] == '"' {
				if !see(at, true) || at+1 < len(text) && !see(at+1, true) {
					return
				}
				at++
				continue
			}
			if strings.HasPrefix(text[at:], quote) {
				for range len(quote) - 1 {
					if !see(at, true) {
						return
					}
					at++
				}
				quote = ""
			}
		case text[at] == '#':
			comment = true
			if !see(at, false) {
				return
			}
			continue
		case text[at] == '"' || text[at] == '\'':
			quote = text[at : at+1]
			if three := strings.Repeat(quote, 3); strings.HasPrefix(text[at:], three) {
				quote = three
				see(at, true)
				see(at+1, true)
				at += 2
			}
			if !see(at, true) {
				return
			}
			continue
		default:
			if !see(at, false) {
				return
			}
			continue
		}
		if !see(at, true) {
			return
		}
	}
}

// next returns the first statement of a text that is not empty.
func next(text string) statement {
	line, _, _ := strings.Cut(text, "\n")
	switch trimmed := strings.TrimSpace(line); {
	case trimmed == "":
		return statement{kind: emptyLine, text: text[:min(len(line)+1, len(text))]}
	case trimmed[0] == '#':
		return statement{kind: commentLine, text: text[:min(len(line)+1, len(text))]}
	}
	s := statement{kind: pairLine}
	depth, equals, end, comment := 0, -1, len(text), -1
	walk(text, func(at int, inside bool) bool {
		if inside {
			return true
		}
		switch text[at] {
		case '#':
			if depth == 0 && comment < 0 {
				comment = at
			}
		case '[', '{':
			depth++
		case ']', '}':
			depth--
		case '=':
			if equals < 0 && depth == 0 {
				equals = at
			}
		case '\n':
			if depth <= 0 {
				end = at
				return false
			}
		}
		return true
	})
	s.text = text[:min(end+1, len(text))]
	if equals < 0 || strings.TrimSpace(line)[0] == '[' {
		head, _, _ := strings.Cut(strings.TrimSpace(line), "#")
		head = strings.TrimSpace(head)
		s.kind, s.array = headerLine, strings.HasPrefix(head, "[[")
		s.path = keyPath(strings.Trim(head, "[] \t"))
		return s
	}
	s.path = keyPath(text[:equals])
	until := end
	if comment >= 0 {
		until = comment
	}
	value := text[equals+1 : until]
	s.from = equals + 1 + len(value) - len(strings.TrimLeft(value, " \t"))
	s.until = s.from + len(strings.TrimSpace(value))
	return s
}

// keyPath returns a dotted key without spaces and quotes.
func keyPath(key string) string {
	parts := strings.Split(key, ".")
	for k, p := range parts {
		parts[k] = strings.Trim(strings.TrimSpace(p), `"'`)
	}
	return strings.Join(parts, ".")
}

// split divides a valid TOML text into its blocks.
func split(text string) []*block {
	blocks := []*block{{}}
	count := map[string]int{}
	for len(text) > 0 {
		s := next(text)
		text = text[len(s.text):]
		last := blocks[len(blocks)-1]
		if s.kind == headerLine {
			b := &block{path: s.path, array: s.array}
			if s.array {
				b.index = count[s.path]
				count[s.path]++
			}
			// Comments right above go with it.
			k := len(last.list)
			for k > 0 && last.list[k-1].kind == commentLine {
				k--
			}
			if len(blocks) > 1 || k > 0 { // those at the top of the file are the file's
				b.list = slices.Clone(last.list[k:])
				last.list = last.list[:k]
			}
			blocks = append(blocks, b)
			last = b
		}
		if s.kind == pairLine && s.path == "name" {
			var v struct{ Name string }
			if toml.Unmarshal([]byte("Name = "+s.text[s.from:s.until]+"\n"), &v) == nil {
				last.name = v.Name
			}
		}
		last.list = append(last.list, s)
	}
	return blocks
}

// pair returns the statement of a key, -1 without.
func (b *block) pair(path string) int {
	return slices.IndexFunc(b.list, func(s statement) bool { return s.kind == pairLine && s.path == path })
}

func (b *block) value(k int) string { return b.list[k].text[b.list[k].from:b.list[k].until] }

func (b *block) text() string {
	var out strings.Builder
	for _, s := range b.list {
		out.WriteString(s.text)
	}
	return out.String()
}

// change gives a key another value; comments that stood in the old one go above it.
func (b *block) change(k int, value string) {
	s := &b.list[k]
	var above string
	inner := statement{kind: pairLine, text: s.text[s.from:s.until]}
	for _, c := range inner.comments() {
		above += c + "\n"
	}
	rest := s.text[s.until:]
	s.text = above + s.text[:s.from] + value + rest
	s.from += len(above)
	s.until = s.from + len(value)
}

// add puts a key behind the last one of the block.
func (b *block) add(s statement) {
	at := 0
	for k := range b.list {
		if b.list[k].kind == pairLine || b.list[k].kind == headerLine {
			at = k + 1
		}
	}
	if at > 0 && !strings.HasSuffix(b.list[at-1].text, "\n") {
		b.list[at-1].text += "\n"
	}
	b.list = slices.Insert(b.list, at, s)
}

// merge makes the changes between two texts of [Inspection.Encode] in a third one,
// whose meaning is that of the first; false where its form does not allow it.
func merge(old, was, now string) (string, bool) {
	m := &merger{old: split(old)}
	a, b := split(was), split(now)
	arrays := map[string]bool{}
	for _, x := range append(slices.Clone(a), b...) {
		if x.array {
			arrays[x.path] = true
			continue
		}
		if m.done(x.path) {
			continue
		}
		if !m.table(x.path, one(a, x.path), one(b, x.path)) {
			return "", false
		}
	}
	for _, x := range append(slices.Clone(a), b...) {
		if x.array && arrays[x.path] {
			arrays[x.path] = false
			if !m.array(x.path, all(a, x.path), all(b, x.path)) {
				return "", false
			}
		}
	}
	var out strings.Builder
	for _, x := range m.old {
		if x != nil {
			out.WriteString(x.text())
		}
	}
	return out.String(), true
}

func one(list []*block, path string) *block {
	for _, b := range list {
		if b.path == path && !b.array {
			return b
		}
	}
	return &block{path: path}
}

func all(list []*block, path string) (out []*block) {
	for _, b := range list {
		if b != nil && b.path == path && b.array {
			out = append(out, b)
		}
	}
	return out
}

type merger struct {
	old    []*block // nil: taken out
	tables []string
}

func (m *merger) done(path string) bool {
	if slices.Contains(m.tables, path) {
		return true
	}
	m.tables = append(m.tables, path)
	return false
}

// table makes the changes between a and b in the table of a path.
func (m *merger) table(path string, a, b *block) bool {
	k := slices.IndexFunc(m.old, func(x *block) bool { return x != nil && x.path == path && !x.array })
	if k >= 0 {
		return m.keys(m.old[k], a, b, m.over(k))
	}
	fresh := &block{path: path}
	if !m.keys(fresh, a, b, nil) || m.inline(path) {
		return len(fresh.list) == 0 // it is written in another form
	}
	if len(fresh.list) == 0 {
		return true
	}
	at := slices.IndexFunc(m.old, func(x *block) bool { return x != nil && x.array })
	if at < 0 {
		at = len(m.old)
	}
	head := statement{kind: headerLine, text: m.gap(at) + "[" + path + "]\n", path: path}
	fresh.list = append([]statement{head}, fresh.list...)
	if at < len(m.old) {
		fresh.list = append(fresh.list, statement{kind: emptyLine, text: "\n"})
	}
	m.old = slices.Insert(m.old, at, fresh)
	return true
}

// inline reports whether a table is written as a key of the root, or by dotted keys.
func (m *merger) inline(path string) bool {
	return slices.ContainsFunc(m.old[0].list, func(s statement) bool {
		return s.kind == pairLine && (s.path == path || strings.HasPrefix(s.path, path+"."))
	})
}

// over returns the blocks of the tables inside the one at k, such as [seam.gap] under a [[seam]].
func (m *merger) over(k int) (inner []*block) {
	for _, x := range m.old[k+1:] {
		if x == nil {
			continue
		}
		if x.path == m.old[k].path || !strings.HasPrefix(x.path, m.old[k].path+".") {
			break
		}
		inner = append(inner, x)
	}
	return inner
}

// gap makes the text before block at end with a line end and returns what parts the next block from it.
func (m *merger) gap(at int) string {
	for k := at - 1; k >= 0; k-- {
		if m.old[k] == nil || len(m.old[k].list) == 0 {
			continue
		}
		last := &m.old[k].list[len(m.old[k].list)-1]
		if last.kind == emptyLine {
			return ""
		}
		if !strings.HasSuffix(last.text, "\n") {
			last.text += "\n"
		}
		return "\n"
	}
	return ""
}

// keys makes the changes between a and b in the block of the old text. inner are the tables inside it.
func (m *merger) keys(to, a, b *block, inner []*block) bool {
	otherForm := func(key string) bool {
		dotted := slices.ContainsFunc(to.list, func(s statement) bool { return s.kind == pairLine && strings.HasPrefix(s.path, key+".") })
		return dotted || slices.ContainsFunc(inner, func(x *block) bool {
			p := to.path + "." + key
			return x.path == p || strings.HasPrefix(x.path, p+".")
		})
	}
	for _, s := range a.list {
		if s.kind != pairLine || b.pair(s.path) >= 0 {
			continue
		}
		if otherForm(s.path) {
			return false
		}
		if k := to.pair(s.path); k >= 0 {
			to.list = slices.Delete(to.list, k, k+1)
		}
	}
	for k, s := range b.list {
		if s.kind != pairLine {
			continue
		}
		before := a.pair(s.path)
		if before >= 0 && a.value(before) == b.value(k) {
			continue
		}
		if otherForm(s.path) {
			return false
		}
		if at := to.pair(s.path); at >= 0 {
			to.change(at, b.value(k))
		} else {
			to.add(s)
		}
	}
	return true
}

// array makes the changes between the blocks of an array of tables. They are told by
// their names, renamed ones by their order.
func (m *merger) array(path string, a, b []*block) bool {
	olds := all(m.old, path)
	if len(olds) != len(a) {
		return false // written as a list of inline tables
	}
	match := make([]int, len(b)) // of each of b, in a
	used := make([]bool, len(a))
	free := 0
	for k, x := range b {
		match[k] = -1
		for n, y := range a {
			if !used[n] && x.name != "" && x.name == y.name {
				match[k], used[n] = n, true
				break
			}
		}
		if match[k] < 0 {
			free++
		}
	}
	if free > 0 && free == len(a)-(len(b)-free) {
		n := 0
		for k := range b {
			if match[k] >= 0 {
				continue
			}
			for used[n] {
				n++
			}
			match[k], used[n] = n, true
		}
	}
	for n := range a {
		if !used[n] {
			m.remove(olds[n])
		}
	}
	var last *block // of b, as it stands in the text
	for k, x := range b {
		if match[k] < 0 {
			last = m.insert(path, x, last)
			continue
		}
		last = olds[match[k]]
		at := slices.Index(m.old, last)
		if !m.keys(m.old[at], a[match[k]], x, m.over(at)) {
			return false
		}
	}
	return true
}

// remove takes a block out with the tables inside it.
func (m *merger) remove(b *block) {
	at := slices.Index(m.old, b)
	for _, x := range m.over(at) {
		m.old[slices.Index(m.old, x)] = nil
	}
	m.old[at] = nil
}

// insert puts a block behind another one of its path; nil: before the first of its path, else at the end. It returns the new one.
func (m *merger) insert(path string, b, behind *block) *block {
	at := len(m.old)
	if behind != nil {
		k := slices.Index(m.old, behind)
		at = k + 1
		for _, x := range m.over(k) {
			at = slices.Index(m.old, x) + 1
		}
	} else if k := slices.IndexFunc(m.old, func(x *block) bool { return x != nil && x.array && x.path == path }); k >= 0 {
		at = k
	}
	text := m.gap(at) + strings.Trim(b.text(), "\n") + "\n"
	if at < len(m.old) {
		text += "\n"
	}
	fresh := &block{path: path, array: true, name: b.name, list: []statement{{kind: headerLine, text: text}}}
	m.old = slices.Insert(m.old, at, fresh)
	return fresh
}
