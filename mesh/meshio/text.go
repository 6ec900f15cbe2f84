package meshio

import (
	"bytes"
	"math"
	"strconv"
)

// text is read word by word; every kind of line end is white space.
type text struct {
	data []byte
	pos  int // of the next byte
	word int // where the last word began
}

func isSpace(b byte) bool { return b == ' ' || b-'\t' < 5 } // blank, tab, LF, VT, FF, CR

// token returns the next word, or nothing at the end.
func (t *text) token() []byte {
	d, i := t.data, t.pos
	for i < len(d) && isSpace(d[i]) {
		i++
	}
	t.word = i
	for i < len(d) && !isSpace(d[i]) {
		i++
	}
	t.pos = i
	return d[t.word:i]
}

// skipLine goes on to the line end, which stays.
func (t *text) skipLine() {
	if i := bytes.IndexAny(t.data[t.pos:], "\r\n"); i >= 0 {
		t.pos += i
		return
	}
	t.pos = len(t.data)
}

// lines cuts a text at LF, CR LF and CR.
type lines struct {
	data []byte
	pos  int    // of the next line
	line []byte // without its end
	at   int    // where line begins
}

func (l *lines) next() bool {
	if l.pos >= len(l.data) {
		return false
	}
	l.at = l.pos
	rest := l.data[l.pos:]
	end := lineEnd(rest)
	l.line = rest[:end]
	l.pos += end
	if l.pos < len(l.data) {
		if l.data[l.pos] == '\r' && l.pos+1 < len(l.data) && l.data[l.pos+1] == '\n' {
			l.pos++
		}
		l.pos++
	}
	return true
}

// lineEnd returns where the first LF or CR of data stands, or their length. It looks at a
// window that grows, since a text whose lines end with CR has no LF until its very end.
func lineEnd(data []byte) int {
	for size := 256; ; size *= 2 {
		window := data[:min(size, len(data))]
		end := len(window)
		if lf := bytes.IndexByte(window, '\n'); lf >= 0 {
			end = lf
		}
		if cr := bytes.IndexByte(window[:end], '\r'); cr >= 0 {
			return cr
		}
		if end < len(window) || len(window) == len(data) {
			return end
		}
	}
}

// joined returns the line with those that follow it as long as a backslash ends them, in memory of its own.
func (l *lines) joined() []byte {
	var whole []byte
	for {
		if !goesOn(l.line) {
			return append(whole, l.line...)
		}
		whole = append(append(whole, l.line[:len(l.line)-1]...), ' ')
		if !l.next() {
			return whole
		}
	}
}

// goesOn reports whether a backslash joins the next line to this one. A comment ends with its line, even
// one that ends with a backslash, as the names of folders do: only statements are joined.
func goesOn(line []byte) bool {
	if !bytes.HasSuffix(line, []byte{'\\'}) {
		return false
	}
	for i := bytes.IndexByte(line, '#'); i >= 0; {
		if i == 0 || isSpace(line[i-1]) {
			return false
		}
		next := bytes.IndexByte(line[i+1:], '#')
		if next < 0 {
			break
		}
		i += 1 + next
	}
	return true
}

// skipBOM drops the byte order mark some editors put before UTF-8.
func skipBOM(data []byte) []byte { return bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")) }

// isWord compares without case; w is in lower case.
func isWord(b []byte, w string) bool {
	return string(b) == w || len(b) == len(w) && bytes.EqualFold(b, []byte(w))
}

// powersOfTen are exact in float64.
var powersOfTen = [...]float64{1e0, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads a decimal number, correctly rounded; a number too large for
// float64 is infinite, and "nan", "inf" and the like are what they say.
//
// The short way is exact: a decimal of at most 2^53 times or over a power of
// ten up to 10^22 takes one correctly rounded operation (Clinger 1990).
func number(b []byte) (float64, bool) {
	if v, ok := shortNumber(b); ok {
		return v, true
	}
	v, err := strconv.ParseFloat(string(b), 64)
	if err == nil || math.IsInf(v, 0) {
		return v, !bytes.ContainsAny(b, "_xX")
	}
	// What C libraries print: -nan, -nan(ind), 1.#IND, -1.#INF. None is finite, which is all that matters.
	word := bytes.ToLower(bytes.TrimLeft(b, "+-"))
	if bytes.HasPrefix(word, []byte("nan")) || bytes.HasPrefix(word, []byte("1.#")) {
		return math.NaN(), true
	}
	return 0, false
}

func shortNumber(b []byte) (float64, bool) {
	i, negative := 0, false
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		negative = b[i] == '-'
		i++
	}
	var mantissa uint64
	digits, exponent, point := 0, 0, false
	for ; i < len(b); i++ {
		c := b[i] - '0'
		if c <= 9 {
			mantissa = mantissa*10 + uint64(c)
			digits++
			if point {
				exponent--
			}
		} else if b[i] == '.' && !point {
			point = true
		} else {
			break
		}
	}
	if digits == 0 || digits > 18 || mantissa > 1<<53 {
		return 0, false
	}
	if i < len(b) {
		e, ok := shortExponent(b[i:])
		if !ok {
			return 0, false
		}
		exponent += e
	}
	v := float64(mantissa)
	switch {
	case exponent > 22 || exponent < -22:
		return 0, false
	case exponent < 0:
		v /= powersOfTen[-exponent]
	default:
		v *= powersOfTen[exponent]
	}
	if negative {
		v = -v
	}
	return v, true
}

func shortExponent(b []byte) (int, bool) {
	if b[0] != 'e' && b[0] != 'E' {
		return 0, false
	}
	i, sign := 1, 1
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		if b[i] == '-' {
			sign = -1
		}
		i++
	}
	if i >= len(b) || len(b)-i > 3 {
		return 0, false
	}
	e := 0
	for ; i < len(b); i++ {
		c := b[i] - '0'
		if c > 9 {
			return 0, false
		}
		e = e*10 + int(c)
	}
	return sign * e, true
}

// integer reads a whole number with an optional sign.
func integer(b []byte) (int, bool) {
	i, negative := 0, false
	if len(b) > 0 && (b[0] == '-' || b[0] == '+') {
		negative = b[0] == '-'
		i++
	}
	if i == len(b) || len(b)-i > 18 {
		return 0, false
	}
	n := 0
	for ; i < len(b); i++ {
		c := b[i] - '0'
		if c > 9 {
			return 0, false
		}
		n = n*10 + int(c)
	}
	if negative {
		n = -n
	}
	return n, true
}

// notNumber words the complaint about something that should be a number.
func notNumber(b []byte) string {
	if len(b) == 0 {
		return "the file ends where a number is expected; it was cut short: export or copy it again"
	}
	if bytes.IndexByte(b, ',') >= 0 {
		return excerpt(b) + " is not a number: decimals need a point, not a comma; export it again"
	}
	return excerpt(b) + " is not a number; export it again"
}
