package meshio

import (
	"bytes"
	"encoding/binary"
)

// plyText reads rows of a text PLY: words between white space.
type plyText struct {
	*source
	text
}

func (r *plyText) at() int { return min(r.pos, len(r.text.data)) }

func (r *plyText) end() error {
	if word := r.token(); len(word) > 0 {
		return r.fault(atText(r.word), "%s stands after the last row the header promises; the counts in the header are wrong: export it again", excerpt(word))
	}
	return nil
}

func (r *plyText) short(e *plyElement, row int) error {
	return r.fault(atText(r.word).of("row %s of element %q", count(row), e.name), "the file ends here, the header says %s rows; it was cut short: export or copy it again", count(e.rows))
}

func (r *plyText) row(e *plyElement, row int, values []float64, listed int, list []int64) ([]int64, error) {
	for c, p := range e.properties {
		word := r.token()
		if len(word) == 0 {
			return list, r.short(e, row)
		}
		if p.count == 0 {
			v, ok := number(word)
			if !ok {
				return list, r.fault(atText(r.word).of("row %s of element %q", count(row), e.name), "%s", notNumber(word))
			}
			if p.value == plyFloat32 {
				v = float64(float32(v)) // what a binary file of the same type holds
			}
			values[c] = v
			continue
		}
		n, ok := integer(word)
		if !ok || n < 0 || n > len(r.text.data)-r.pos {
			return list, r.fault(atText(r.word).of("row %s of element %q", count(row), e.name), "a list of %s values is longer than the file, or no number; it is damaged: export or copy it again", excerpt(word))
		}
		for range n {
			if word = r.token(); len(word) == 0 {
				return list, r.short(e, row)
			}
			if c != listed {
				continue
			}
			v, ok := integer(word)
			if !ok {
				return list, r.fault(atText(r.word).of("row %s of element %q", count(row), e.name), "%s", notNumber(word))
			}
			list = append(list, int64(v))
		}
	}
	if d, i := r.text.data, r.pos; i < len(d) && d[i] != '\n' && d[i] != '\r' {
		rest := lines{data: d, pos: i}
		rest.next()
		if extra := bytes.TrimSpace(rest.line); len(extra) > 0 {
			return list, r.fault(atText(i).of("row %s of element %q", count(row), e.name), "%s stands after the values the header promises for a row; export it again", excerpt(extra))
		}
	}
	return list, nil
}

// plyBinary reads rows of a binary PLY.
type plyBinary struct {
	*source
	pos   int
	order binary.ByteOrder
}

func (r *plyBinary) at() int { return r.pos }

// end refuses bytes after the last row; line ends may have been added by a copy.
func (r *plyBinary) end() error {
	for i := r.pos; i < len(r.data); i++ {
		if !isSpace(r.data[i]) {
			return r.fault(atByte(r.pos), "%s bytes stand after the last row the header promises; the counts in the header are wrong: export it again", count(len(r.data)-r.pos))
		}
	}
	return nil
}

// take returns the next n bytes, or nothing when there are fewer.
func (r *plyBinary) take(n int) []byte {
	if n > len(r.data)-r.pos {
		return nil
	}
	b := r.data[r.pos : r.pos+n : r.pos+n]
	r.pos += n
	return b
}

func (r *plyBinary) short(e *plyElement, row int) error {
	return r.fault(atByte(r.pos).of("row %s of element %q", count(row), e.name), "the file ends here, the header says %s rows; it was cut short: export or copy it again", count(e.rows))
}

func (r *plyBinary) row(e *plyElement, row int, values []float64, listed int, list []int64) ([]int64, error) {
	for c, p := range e.properties {
		if p.count == 0 {
			b := r.take(p.value.size())
			if b == nil {
				return list, r.short(e, row)
			}
			values[c] = p.value.value(b, r.order)
			continue
		}
		b := r.take(p.count.size())
		if b == nil {
			return list, r.short(e, row)
		}
		n, size := p.count.value(b, r.order), p.value.size()
		if n < 0 || n > float64((len(r.data)-r.pos)/size) {
			return list, r.fault(atByte(r.pos).of("row %s of element %q", count(row), e.name), "a list of %s values is longer than the rest of the file; it was cut short or is damaged: export or copy it again", count(int(n)))
		}
		items := r.take(int(n) * size)
		if c != listed {
			continue
		}
		for ; len(items) > 0; items = items[size:] {
			list = append(list, asIndex(p.value.value(items, r.order)))
		}
	}
	return list, nil
}
