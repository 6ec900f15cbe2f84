package shade

// marks tell which parts of a buffer were drawn into, so that the others need not be looked at.
type marks struct {
	columns, rows int
	samples       int
	set           []bool
}

// markWide and markHigh, in pixels, are the size of such a part.
const (
	markWide = 32
	markHigh = 16
)

// prepare makes the marks fit a picture; they are empty between frames.
func (m *marks) prepare(w, h, samples int) {
	m.columns, m.rows, m.samples = (w+markWide-1)/markWide, (h+markHigh-1)/markHigh, samples
	n := m.columns * m.rows
	if cap(m.set) < n {
		m.set = make([]bool, n)
	}
	m.set = m.set[:n]
}

// box marks what a cluster may draw into, points included.
func (m *marks) box(b *bounds) {
	room := float64(2 * m.samples * sub)
	pixel := float64(m.samples * sub)
	left, right := int(max(0, b.x-b.rx-room)/pixel), int(max(0, b.x+b.rx+room)/pixel)
	top, bottom := int(max(0, b.y-b.ry-room)/pixel), int(max(0, b.y+b.ry+room)/pixel)
	right, bottom = min(right/markWide, m.columns-1), min(bottom/markHigh, m.rows-1)
	for row := top / markHigh; row <= bottom; row++ {
		for column := left / markWide; column <= right; column++ {
			m.set[row*m.columns+column] = true
		}
	}
}

func (m *marks) all() {
	for i := range m.set {
		m.set[i] = true
	}
}

// marked reports whether any buffer was drawn into around a sample.
func marked(canvases []*canvas, x, y int) bool {
	for _, c := range canvases {
		m := &c.marks
		if m.set[y/(markHigh*m.samples)*m.columns+x/(markWide*m.samples)] {
			return true
		}
	}
	return false
}
