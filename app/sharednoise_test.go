package app_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
	"shutline/app/inspection"
	"shutline/mesh/bodywork"
	"shutline/mesh/geom"
	"shutline/mesh/meshio"
)

// The noise comes out as it was put on, to a quarter, whether each point has its own or
// neighbours share it over some millimetres, on a part that is itself bent and dented.
func TestNoiseThatNeighboursShareIsSeen(t *testing.T) {
	const sd = 0.05
	flat := bodywork.Plane(300, 240, 2)
	part := bodywork.Mapped(flat, func(p geom.Vec) geom.Vec {
		p.Z += 0.003 * p.X // a millimetre out at the end
		if d := p.Sub(geom.Vec{X: 90, Y: 90}).Norm2(); d < 900 {
			p.Z -= 2 * (1 - d/900)
		}
		return p
	})
	for _, length := range []float64{0, 4, 8} {
		scan := bodywork.WithNoise(part, sd, 3)
		if length > 0 {
			scan = bodywork.WithSmoothNoise(part, sd, length, 3)
		}
		i := job(t, scan, flat)
		i.Place.Method, i.Scan.Units, i.Reference.Units = inspection.None, meshio.Millimetre, meshio.Millimetre
		o, err := app.Inspect(context.Background(), i, app.Settings{}, nil)
		require.NoError(t, err)
		require.InEpsilon(t, sd, o.Compared.Field.Noise, 0.25, "shared over %v mm", length)
	}
}
