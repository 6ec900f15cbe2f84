package meshio_test

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

func TestWritePLYComesBackAsItWas(t *testing.T) {
	m := wave(30)
	n := len(m.Vertices)
	deviation, state := make([]float64, n), make([]uint8, n)
	for i := range n {
		m.Vertices[i].Z += 1 / 3.0 // needs a double
		m.Colours = append(m.Colours, [3]uint8{uint8(i), uint8(i / 3), 7})
		deviation[i] = float64(i)/64 - 5 // exact in float32
		if i%10 == 3 {
			deviation[i], state[i] = math.NaN(), 2
		}
	}
	var b bytes.Buffer
	require.NoError(t, meshio.WritePLY(&b, m, meshio.PLYOptions{
		Comments: []string{"state: 0 measured, 1 beyond-reach,\n2 facing-away, 3 off-edge"},
		Columns:  []meshio.Column{{Name: "deviation", Floats: deviation}, {Name: "state", Bytes: state}},
	}))
	l, err := read(t, "w.ply", b.Bytes())
	require.NoError(t, err)
	require.Equal(t, m.Vertices, l.Mesh.Vertices)
	require.Equal(t, m.Faces, l.Mesh.Faces)
	require.Equal(t, m.Colours, l.Mesh.Colours)
	require.Empty(t, l.Notices())

	// The columns, at their places in rows of 24 + 3 + 4 + 1 bytes.
	head, body, ok := bytes.Cut(b.Bytes(), []byte("end_header\n"))
	require.True(t, ok)
	require.Contains(t, string(head), "comment state: 0 measured, 1 beyond-reach, 2 facing-away, 3 off-edge\n")
	require.Contains(t, string(head), "property uchar blue\nproperty float deviation\nproperty uchar state\n")
	for i := range n {
		row := body[32*i:]
		got := float64(math.Float32frombits(binary.LittleEndian.Uint32(row[27:])))
		require.Equal(t, state[i], row[31])
		require.Equal(t, math.IsNaN(deviation[i]), math.IsNaN(got))
		if state[i] == 0 {
			require.Equal(t, deviation[i], got)
		}
	}
}

func TestWritePLYOfPoints(t *testing.T) {
	m := &mesh.Mesh{Vertices: []geom.Vec{{X: 0.1}, {Y: 1e-300}}, Normals: []geom.Vec{{Z: 1}, {X: -1}}}
	var b bytes.Buffer
	require.NoError(t, meshio.WritePLY(&b, m, meshio.PLYOptions{}))
	l, err := read(t, "w.ply", b.Bytes())
	require.NoError(t, err)
	require.Equal(t, m, l.Mesh)
}

func TestWritePLYRefusesWhatDoesNotFit(t *testing.T) {
	one := &mesh.Mesh{Vertices: []geom.Vec{{}}}
	for want, c := range map[string]struct {
		m *mesh.Mesh
		o meshio.PLYOptions
	}{
		"without vertices": {&mesh.Mesh{}, meshio.PLYOptions{}},
		"not finite":       {&mesh.Mesh{Vertices: []geom.Vec{{X: math.Inf(1)}}}, meshio.PLYOptions{}},
		"2 normals for 1":  {&mesh.Mesh{Vertices: one.Vertices, Normals: make([]geom.Vec, 2)}, meshio.PLYOptions{}},
		"0 values of a":    {one, meshio.PLYOptions{Columns: []meshio.Column{{Name: "a"}}}},
		"cannot be named":  {one, meshio.PLYOptions{Columns: []meshio.Column{{Name: "a b", Bytes: []uint8{1}}}}},
	} {
		require.ErrorContains(t, meshio.WritePLY(io.Discard, c.m, c.o), want)
	}
	fails := errors.New("disk full")
	require.ErrorIs(t, meshio.WritePLY(failing{fails}, one, meshio.PLYOptions{}), fails)
}
