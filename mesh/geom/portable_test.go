package geom

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The standard library's functions are right to the last bit or two on every
// processor; these must stay within their own bounds of them.

// edges are the arguments that the rules of IEEE 754 single out.
var edges = []float64{0, math.Copysign(0, -1), 1, -1, 2, -2, 0.5, math.SmallestNonzeroFloat64, -math.SmallestNonzeroFloat64,
	math.MaxFloat64, -math.MaxFloat64, math.Inf(1), math.Inf(-1), math.NaN()}

// requireSame compares what has one right value: NaN, signed zeros, infinities.
func requireSame(t *testing.T, want, got float64, what string) {
	t.Helper()
	if math.IsNaN(want) {
		require.True(t, math.IsNaN(got), "%s: NaN, not %v", what, got)
		return
	}
	if want == 0 || math.IsInf(want, 0) {
		require.Equal(t, math.Float64bits(want), math.Float64bits(got), "%s: %v, not %v", what, want, got)
		return
	}
	require.InEpsilon(t, want, got, 1e-15, what)
}

func TestSincosAndTan(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	for i := range 200000 {
		x := (2*r.Float64() - 1) * math.Pow(10, 7*r.Float64()-4)
		if i < 65 {
			x = float64(i-32) * math.Pi / 8
		}
		s, c := Sincos(x)
		require.InDelta(t, math.Sin(x), s, 1e-15, x)
		require.InDelta(t, math.Cos(x), c, 1e-15, x)
		// math.Tan gives x for its tangent below 1e-7, which is 3e-15 too little.
		if want := math.Tan(x); math.Abs(want) < 1e3 && math.Abs(want) > 1e-7 && math.Abs(x) < 10 {
			require.InEpsilon(t, want, Tan(x), 1e-15, x)
		}
	}
	for range 1000 { // tiny angles keep their relative precision
		x := (2*r.Float64() - 1) * 1e-5
		s, _ := Sincos(x)
		require.InEpsilon(t, math.Sin(x), s, 1e-15, x)
	}
	for _, x := range edges {
		s, c := Sincos(x)
		if math.Abs(x) < 1e5 || x-x != 0 {
			requireSame(t, math.Sin(x), s, fmt.Sprint("sin ", x))
			requireSame(t, math.Cos(x), c, fmt.Sprint("cos ", x))
			requireSame(t, math.Tan(x), Tan(x), fmt.Sprint("tan ", x))
		}
	}
}

func TestSincosFarOut(t *testing.T) {
	r := rand.New(rand.NewPCG(2, 1))
	for range 10000 {
		x := math.Pow(10, 5+10*r.Float64())
		s, c := Sincos(x)
		off := 1e-15 + math.Nextafter(x, math.Inf(1)) - x // of x's own rounding
		require.InDelta(t, math.Sin(x), s, off, x)
		require.InDelta(t, math.Cos(x), c, off, x)
	}
	for _, x := range []float64{1e100, math.MaxFloat64} { // the angle means nothing, a turn by it still is a turn
		s, c := Sincos(x)
		require.InDelta(t, 1, s*s+c*c, 1e-15)
	}
}

func TestAtanAndAtan2(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1))
	for range 200000 {
		x := (2*r.Float64() - 1) * math.Pow(10, 16*r.Float64()-8)
		y := (2*r.Float64() - 1) * math.Pow(10, 16*r.Float64()-8)
		require.InEpsilon(t, math.Atan(x), Atan(x), 4e-16, x)
		require.InEpsilon(t, math.Atan2(y, x), Atan2(y, x), 5e-16, "%v, %v", y, x)
	}
	for _, y := range edges {
		requireSame(t, math.Atan(y), Atan(y), fmt.Sprint("atan ", y))
		for _, x := range edges {
			if x < 0 && y < 0 && y/x == 0 {
				require.Equal(t, -math.Pi, Atan2(y, x)) // math.Atan2 loses the sign where y/x is too small
				continue
			}
			requireSame(t, math.Atan2(y, x), Atan2(y, x), fmt.Sprint("atan2 ", y, x))
		}
	}
	for _, a := range []float64{-3, -2, -1, 0.1, 1, 2, 3} { // quadrants
		s, c := Sincos(a)
		require.InEpsilon(t, a, Atan2(s, c), 1e-15)
	}
}

func TestPow(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 1))
	for range 200000 {
		x := math.Pow(10, 40*r.Float64()-20)
		y := 6*r.Float64() - 3
		require.InEpsilon(t, math.Pow(x, y), Pow(x, y), 5e-16*(1+math.Abs(y*math.Log(x))), "%v^%v", x, y)
	}
	for _, x := range edges {
		for _, y := range edges {
			if x < 0 || x == 0 && math.Signbit(x) {
				continue // math.Pow knows whole powers of what is negative
			}
			if math.Abs(y) > 2 && y-y == 0 || x == math.SmallestNonzeroFloat64 || x == math.MaxFloat64 {
				continue // beyond the bound that holds in general
			}
			requireSame(t, math.Pow(x, y), Pow(x, y), fmt.Sprint("pow ", x, y))
		}
	}
	require.True(t, math.IsNaN(Pow(-1, 2)))
	require.Equal(t, math.Inf(1), Pow(1e300, 3))
	require.Zero(t, Pow(1e300, -3))
	require.InEpsilon(t, 2, Pow(8, 1.0/3), 1e-15)
}

func BenchmarkPortable(b *testing.B) {
	for _, f := range []struct {
		name string
		of   func(x float64) float64
	}{
		{"Sincos", func(x float64) float64 { s, _ := Sincos(x); return s }},
		{"math.Sincos", func(x float64) float64 { s, _ := math.Sincos(x); return s }},
		{"Atan2", func(x float64) float64 { return Atan2(x, 1-x) }},
		{"math.Atan2", func(x float64) float64 { return math.Atan2(x, 1-x) }},
	} {
		b.Run(f.name, func(b *testing.B) {
			sum := 0.0
			for i := 0; b.Loop(); i++ {
				sum += f.of(float64(i&1023) / 512)
			}
			if math.IsNaN(sum) {
				b.Fatal(sum)
			}
		})
	}
}

func TestExpAndLog(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 1))
	for range 100000 {
		x := (2*r.Float64() - 1) * 700
		require.InEpsilon(t, math.Exp(x), Exp(x), 5e-16*(1+math.Abs(x)))
		y := math.Pow(10, 600*r.Float64()-300)
		require.InDelta(t, math.Log(y), Log(y), 5e-16*(1+math.Abs(math.Log(y))))
	}
	for _, x := range []float64{0, 1, -1, math.Inf(1), math.Inf(-1), math.NaN()} {
		requireSame(t, math.Exp(x), Exp(x), fmt.Sprint("exp ", x))
		requireSame(t, math.Log(x), Log(x), fmt.Sprint("log ", x))
	}
}
