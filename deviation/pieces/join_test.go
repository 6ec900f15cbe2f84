package pieces

import (
	"context"
	"math"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
)

func greatest(r *Result, truth []geom.Rigid, all []Piece) (worst float64) {
	for k, p := range r.Pieces {
		worst = max(worst, geom.MaxDisplacement(p.JoinedFromPiece, truth[k], all[k].Mesh.Bounds()))
	}
	return worst
}

// Six pieces round a closed body, thrown off by millimetres, come together within their U; the round closes; and one thread
// gives the same bits as two.
func TestRoundIsJoined(t *testing.T) {
	all, truth := ring{8}.loop(6, 0.05, 0.03, 3)
	r, err := Join(context.Background(), all, nil, nil, Settings{Threads: 2}, nil)
	require.NoError(t, err)
	require.Len(t, r.Overlaps, 6)
	for k, p := range r.Pieces {
		if p.Stays {
			continue
		}
		require.Equal(t, [6]bool{}, p.Free)
		err := geom.MaxDisplacement(p.JoinedFromPiece, truth[k], all[k].Mesh.Bounds())
		require.LessOrEqual(t, err, 2*p.UFar, "piece %s", p.Name)
		require.Less(t, err, 0.25)
	}
	require.True(t, r.Pieces[0].Stays)
	require.Equal(t, geom.Identity(), r.Pieces[0].JoinedFromPiece)
	require.Len(t, r.Cycles, 1)
	require.True(t, r.Cycles[0].Closes)
	require.Len(t, r.Cycles[0].Nodes, 6)
	require.Equal(t, 6, r.DoF)
	for _, o := range r.Overlaps {
		require.Equal(t, SameShape, o.Shape)
		require.InDelta(t, o.Alone, o.After, 0.003)
		require.Greater(t, o.Before, o.After)
	}

	one, err := Join(context.Background(), all, nil, nil, Settings{Threads: 1}, nil)
	require.NoError(t, err)
	for k := range r.Pieces {
		require.Equal(t, r.Pieces[k], one.Pieces[k])
	}
}

// A piece that is deformed differs from its neighbours, and no other pair does.
func TestBentPieceIsNamed(t *testing.T) {
	all, _ := ring{10}.loop(6, 0.06, 0.03, 4)
	c := all[2].Mesh.Bounds().Center()
	all[2].Mesh = bodywork.Mapped(all[2].Mesh, func(p geom.Vec) geom.Vec {
		d := p.Sub(c)
		return c.Add(geom.RotationVector(geom.Vec{Z: 6e-6 * d.Z}).R.MulVec(d)) // 3.6 mrad from sill to top
	})
	r, err := Join(context.Background(), all, nil, nil, Settings{Threads: 2}, nil)
	require.NoError(t, err)
	different := 0
	for _, o := range r.Overlaps {
		if o.Shape == DifferentShape {
			different++
			require.True(t, o.A == 2 || o.B == 2, "%s and %s", r.Names[o.A], r.Names[o.B])
			require.Greater(t, math.Abs(o.Most.Offset), 3*o.Noise.Sigma)
		}
	}
	require.Positive(t, different)
}

// Onto a reference: pieces that share no frame with it are laid on it, and stay together.
func TestOntoAReference(t *testing.T) {
	all, firstFromPiece := ring{8}.loop(3, 0.05, 0.03, 5)
	whole := Piece{Name: "reference", Mesh: ring{6}.piece(0, 1, 0, 77)}
	r, err := Join(context.Background(), all, &whole, nil, Settings{Threads: 2}, nil)
	require.NoError(t, err)
	require.True(t, r.Onto)
	require.Equal(t, []string{"a", "b", "c", "reference"}, r.Names)
	// The first piece's true place was thrown away, but the places of the others relative to it were not.
	for k, p := range r.Pieces {
		relative := r.Pieces[0].JoinedFromPiece.Inverse().After(p.JoinedFromPiece)
		require.Less(t, geom.MaxDisplacement(relative, firstFromPiece[k], all[k].Mesh.Bounds()), 0.15)
	}
}

func TestBadPiecesAreRefused(t *testing.T) {
	ctx := context.Background()
	all, _ := ring{12}.loop(3, 0.05, 0.03, 6)
	metres := all[1]
	metres.Mesh = bodywork.Mapped(metres.Mesh, func(p geom.Vec) geom.Vec { return p.Scale(0.001) })
	far := geom.Identity()
	far.T.X = 5000
	left := Piece{Name: "left", Mesh: skin(0.03, 0, 1)}
	right := Piece{Name: "right", Mesh: bodywork.SpherePatch(300, 0.5, 5).Moved(far)}
	turned := Piece{Name: "turned", Mesh: bodywork.Mapped(all[1].Mesh, func(p geom.Vec) geom.Vec { return p })}
	turned.Mesh.Faces = nil
	for _, f := range all[1].Mesh.Faces {
		turned.Mesh.Faces = append(turned.Mesh.Faces, [3]uint32{f[1], f[0], f[2]})
	}
	// A plain sheet holds no slide, so that a copy of it stays where it was put.
	strewn := 0
	sheet := Piece{Name: "sheet", Mesh: bodywork.WithNoise(bodywork.Mapped(bodywork.Plane(600, 400, 6), func(p geom.Vec) geom.Vec {
		strewn++
		return p.Add(geom.Vec{X: 2 * unitOf(1, uint64(strewn)), Y: 2 * unitOf(2, uint64(strewn))})
	}), 0.03, 5)}
	slid := Piece{Name: "slid", Mesh: sheet.Mesh.Moved(geom.Rigid{R: geom.Rotation(geom.Vec{Z: 1}, 0.003).R, T: geom.Vec{X: 7.3, Y: 2.1, Z: 0.4}})}
	for _, bad := range []struct {
		name string
		all  []Piece
		says []string
	}{
		{"one", all[:1], []string{"two pieces or more are needed to join, and 1 given"}},
		{"slid", []Piece{sheet, slid}, []string{"sheet and slid hold the same points", "as no two scans do"}},
		{"inside out", []Piece{all[0], turned}, []string{"turned lies on a over", "one of them is inside out"}},
		{"two units", []Piece{all[0], metres}, []string{"a and b are in different units", "mm apart"}},
		{"twins", []Piece{all[0], {Name: "copy", Mesh: all[0].Mesh}}, []string{"a and copy are the same mesh", "faces agree"}},
		{"moved", []Piece{all[0], {Name: "copy", Mesh: all[0].Mesh.Moved(geom.Rotation(geom.Vec{X: 1, Y: 2, Z: 3}, 0.002))}}, []string{"a and copy hold the same points", "as no two scans do"}},
		{"unit", []Piece{all[0], metres, all[2]}, []string{"b is in another unit", "times the others'"}},
		{"apart", []Piece{left, right}, []string{"right overlaps none", "left", "mm away"}},
		{"cloud", []Piece{left, {Name: "cloud", Mesh: bodywork.Plane(10, 10, 5)}}, []string{"cloud has 8 faces"}},
	} {
		_, err := Join(ctx, bad.all, nil, nil, Settings{Threads: 2}, nil)
		require.ErrorIs(t, err, ErrPieces, bad.name)
		for _, s := range bad.says {
			require.ErrorContains(t, err, s, bad.name)
		}
	}
}

// Two scans whose frames have nothing to do with one another may be loaded into one another by chance; where the fit comes to rest then is no
// place of theirs. They are laid on one another by a best fit, as pieces are that lie apart.
func TestPiecesLoadedIntoOneAnotherByChance(t *testing.T) {
	a, b := skin(0.03, 0, 1), skin(0.03, 0, 2)
	away := geom.Rotation(geom.Vec{X: 0.5, Y: 0.3, Z: -0.8}, 0.6)
	away.T = geom.Vec{X: 100, Y: 50, Z: -70}
	r, err := Join(context.Background(), []Piece{{"a", a}, {"b", bodywork.Mapped(b, away.Apply)}}, nil, nil, Settings{}, nil)
	require.NoError(t, err)
	require.Len(t, r.Overlaps, 1)
	require.Equal(t, SameShape, r.Overlaps[0].Shape)
	require.Less(t, geom.MaxDisplacement(r.Pieces[1].JoinedFromPiece.After(away), geom.Identity(), b.Bounds()), 0.3)
}

// A piece that is smaller than the least overlap is not told to overlap more.
func TestAPieceTooSmallToOverlap(t *testing.T) {
	a, b := bodywork.WithNoise(bodywork.Plane(50, 40, 1), 0.02, 1), bodywork.WithNoise(bodywork.Plane(50, 40, 1), 0.02, 2)
	_, err := Join(context.Background(), []Piece{{"a", a}, {"b", b}}, nil, nil, Settings{}, nil)
	require.ErrorIs(t, err, ErrPieces)
	require.ErrorContains(t, err, "b is a piece of 20 cm² in all")
	require.ErrorContains(t, err, "80 cm²")
}
