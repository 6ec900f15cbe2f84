package bodywork

import (
	"context"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestCounts(t *testing.T) {
	for _, size := range []int{20_000, 50_000, 300_000} {
		j, err := Van(context.Background(), Options{Size: size, Seed: 1}, nil)
		require.NoError(t, err)
		t.Log(size, len(j.Scan.Faces), len(j.Scan.Vertices), len(j.Reference.Faces), len(j.Seams[0].Path))
		require.InEpsilon(t, size, len(j.Scan.Faces), 0.1)
		require.InEpsilon(t, size/2, len(j.Reference.Faces), 0.1)
	}
}
