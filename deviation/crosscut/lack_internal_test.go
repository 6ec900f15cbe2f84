package crosscut

import (
	"math"
	"math/rand/v2"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"
)

// bump is a straight with a cosine bump of a depth and a length, by its formula, its places off by noise.
func bump(deep, long, step, noise float64, r *rand.Rand) Curve {
	c := Curve{}
	for h := -200.0; h <= 200; h += step {
		v := noise * r.NormFloat64()
		if math.Abs(h) < long/2 {
			v -= deep * (1 + math.Cos(2*math.Pi*h/long)) / 2
		}
		c.Points = append(c.Points, Point2{h, v})
	}
	return c
}

// A shallow dent has no radius on any stretch: whichever is asked for, none is sent to a wider one that sends it back.
func TestAShallowDentIsTooFlatForARadius(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	c := bump(2.5, 160, 1, 0.03, r)
	for _, within := range []float64{15, 20, 25, 30, 45, 50, 60, 100, 150} {
		v, _, why := radius([]Curve{c}, Point2{0, -2.5}, within, leastPlaces)
		require.False(t, v.OK, "within %v: %v", within, v)
		require.Contains(t, why, "too flat there for a radius", "within %v", within)
		require.Contains(t, why, "what tells is its depth", "within %v", within)
	}
}

// Where another stretch tells the radius its width is named, and it does tell it: an arc of 500 mm turns too little on a short one.
func TestAStretchThatIsAdvisedTellsTheRadius(t *testing.T) {
	const truth = 500.0
	r := rand.New(rand.NewPCG(5, 6))
	c := Curve{}
	for a := -0.4; a <= 0.4; a += 1 / truth {
		d := truth + 0.02*r.NormFloat64()
		c.Points = append(c.Points, Point2{d * math.Sin(a), d * math.Cos(a)})
	}
	at := Point2{0, truth}
	v, _, why := radius([]Curve{c}, at, 20, leastPlaces)
	require.False(t, v.OK)
	m := regexp.MustCompile(`write within = ([0-9.]+)$`).FindStringSubmatch(why)
	require.NotNil(t, m, why)
	within, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	v, _, why = radius([]Curve{c}, at, within, leastPlaces)
	require.True(t, v.OK, why)
	require.InDelta(t, truth, v.V, v.U)
}

// A hem that was not seen round is scanned on, not finer: at 0.5 mm its points are close enough to tell 1.5 mm, had it been seen.
func TestAHemThatIsNotSeenRoundIsScannedOn(t *testing.T) {
	hem := func(turns float64) Curve {
		r := rand.New(rand.NewPCG(7, 8))
		const radius, step = 1.5, 0.25
		c := Curve{}
		for h := -40.0; h < 0; h += step {
			c.Points = append(c.Points, Point2{h, radius + 0.01*r.NormFloat64()})
		}
		for a := 0.0; a < turns*math.Pi/180; a += step / radius {
			d := radius + 0.01*r.NormFloat64()
			c.Points = append(c.Points, Point2{d * math.Sin(a), d * math.Cos(a)})
		}
		return c
	}
	c := hem(25)
	end := c.Points[len(c.Points)-1]
	v, _, why := radius([]Curve{c}, end, 5, leastPlaces)
	require.False(t, v.OK, "%v", v)
	require.Contains(t, why, "the scan ends on the way round the bend")
	require.Contains(t, why, "scan on round the edge")
	require.NotContains(t, why, "finer")
	v, _, why = radius([]Curve{hem(170)}, Point2{1.5, 0}, 5, leastPlaces)
	require.True(t, v.OK, why)
	require.InDelta(t, 1.5, v.V, v.U)
}
