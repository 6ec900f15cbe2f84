package geom

import "math"

// The standard library's functions differ in their last bits between processors:
// assembly here, fused products there. These use only what IEEE 754 rounds the
// same everywhere: + - * / and the square root, every product on its own.

// Sincos returns the sine and cosine of x radians, each within 1e-15 of the truth.
// Beyond 1e5 they belong to an angle that differs from x by less than x itself is
// rounded. What is not finite gives NaN.
func Sincos(x float64) (s, c float64) {
	if math.Abs(x) > sincosFar {
		// Mod is exact; that 2*math.Pi is itself rounded moves x by 4e-17 of itself.
		x = math.Mod(x, 2*math.Pi)
	}
	if x != x {
		return x, x
	}
	quarter := math.Floor(float64(x*(2/math.Pi)) + 0.5)
	// pi/2 in two parts (Cody & Waite 1980): the first has trailing zeros, so quarter*hi is exact.
	const hi, lo = 1.57079632673412561417e+00, 6.07710050650619224932e-11
	r := x - float64(quarter*hi)
	r -= float64(quarter * lo)
	r2 := float64(r * r)
	// Taylor series; the first term left out is below 1e-17 for |r| <= pi/4.
	s, c = 1, 1
	for k := 17.0; k >= 3; k -= 2 {
		s = 1 - float64(s*r2)/(k*(k-1))
	}
	for k := 18.0; k >= 2; k -= 2 {
		c = 1 - float64(c*r2)/(k*(k-1))
	}
	s = float64(s * r)
	switch int64(quarter) & 3 {
	case 1:
		return c, -s
	case 2:
		return -s, -c
	case 3:
		return -c, s
	}
	return s, c
}

// sincosFar keeps quarter*hi exact: hi has 33 bits, so quarter may have 20.
const sincosFar = 1e5

// Tan returns the tangent of x radians, relatively within 1e-15 where it is below
// 1e3; closer to a pole the error is that of x times the slope.
func Tan(x float64) float64 {
	s, c := Sincos(x)
	return s / c
}

// Atan returns the arc tangent in radians, -pi/2 to pi/2, relatively within 4e-16.
func Atan(x float64) float64 {
	switch {
	case x == 0 || x != x:
		return x
	case x < 0:
		return -atanPositive(-x)
	}
	return atanPositive(x)
}

// atanPositive carries x > 0 into the range of atanSmall by
// atan x = a + atan((x - tan a) / (1 + x tan a)) with a of pi/4 and pi/2.
func atanPositive(x float64) float64 {
	// What math.Pi/2 lacks of pi/2.
	const lacks = 6.123233995736765886e-17
	switch {
	case x <= 0.66:
		return atanSmall(x)
	case x <= 1+math.Sqrt2: // tan(3 pi/8)
		return math.Pi/4 + atanSmall((x-1)/(x+1)) + 0.5*lacks
	}
	return math.Pi/2 - atanSmall(1/x) + lacks
}

// atanSmall approximates the arc tangent of |x| <= 0.66 by x + x³ P(x²)/Q(x²) with
// the coefficients of Moshier, Methods and Programs for Mathematical Functions, 1989.
func atanSmall(x float64) float64 {
	z := float64(x * x)
	p := -8.750608600031904122785e-01
	p = float64(p*z) - 1.615753718733365076637e+01
	p = float64(p*z) - 7.500855792314704667340e+01
	p = float64(p*z) - 1.228866684490136173410e+02
	p = float64(p*z) - 6.485021904942025371773e+01
	q := z + 2.485846490142306297962e+01
	q = float64(q*z) + 1.650270098316988542046e+02
	q = float64(q*z) + 4.328810604912902668951e+02
	q = float64(q*z) + 4.853903996359136964868e+02
	q = float64(q*z) + 1.945506571482613964425e+02
	return float64(x*(float64(z*p)/q)) + x
}

// Atan2 returns the direction of (x, y) in radians, -pi to pi, relatively within
// 5e-16. Zeros and infinities count as IEEE 754 says, and math.Atan2 too.
func Atan2(y, x float64) float64 {
	switch {
	case x != x || y != y:
		return math.NaN()
	case y == 0 || math.IsInf(x, 0) || math.IsInf(y, 0):
		return math.Copysign(atan2Axis(math.Abs(y), x), y)
	case x == 0:
		return math.Copysign(math.Pi/2, y)
	}
	a := Atan(y / x)
	switch {
	case x > 0:
		return a
	case y > 0:
		return a + math.Pi
	}
	return a - math.Pi
}

// atan2Axis is the direction where y >= 0 is zero or a coordinate is infinite.
func atan2Axis(y, x float64) float64 {
	left := math.Signbit(x)
	switch {
	case math.IsInf(y, 0) && math.IsInf(x, 0) && left:
		return 3 * math.Pi / 4
	case math.IsInf(y, 0) && math.IsInf(x, 0):
		return math.Pi / 4
	case math.IsInf(y, 0):
		return math.Pi / 2
	case left:
		return math.Pi
	}
	return 0
}

// Pow returns x to the power y for x >= 0, relatively within 5e-16 times 1 + |y ln x|;
// NaN for x below 0.
func Pow(x, y float64) float64 {
	switch {
	case y == 0 || x == 1:
		return 1 // whatever the other is, as IEEE 754 says
	case x != x || y != y || x < 0:
		return math.NaN()
	case y == 1:
		return x
	case x == 0 || math.IsInf(x, 1):
		if (x == 0) == (y > 0) {
			return 0
		}
		return math.Inf(1)
	}
	return exp(float64(y * ln(x)))
}

// Exp returns e to the power x, relatively within 5e-16 times 1 + |x|.
func Exp(x float64) float64 {
	if x != x {
		return x
	}
	return exp(x)
}

// Log returns the natural logarithm of x within 5e-16 times 1 + |ln x|; NaN for x below 0.
func Log(x float64) float64 {
	switch {
	case x != x || x < 0:
		return math.NaN()
	case x == 0:
		return math.Inf(-1)
	case math.IsInf(x, 1):
		return x
	}
	return ln(x)
}

// ln 2 in two parts; the first has 21 trailing zeros, so its product with an exponent is exact.
const ln2Hi, ln2Lo = 6.93147180369123816490e-01, 1.90821492927058770002e-10

// ln returns the natural logarithm of a finite x > 0.
func ln(x float64) float64 {
	m, e := math.Frexp(x)
	if m < math.Sqrt2/2 {
		m, e = 2*m, e-1
	}
	// ln m = 2 artanh u, |u| <= 0.172; the first term left out is below 1e-17 of the sum.
	u := (m - 1) / (m + 1)
	z := float64(u * u)
	sum := 0.0
	for k := 21.0; k >= 3; k -= 2 {
		sum = float64((sum + 1/k) * z)
	}
	n := float64(e)
	return float64(n*ln2Hi) + (2*u + (2*float64(u*sum) + float64(n*ln2Lo)))
}

// exp returns e to the power x.
func exp(x float64) float64 {
	switch {
	case x > 710: // ln of the largest number is 709.8
		return math.Inf(1)
	case x < -746: // ln of half the smallest is -745.1
		return 0
	}
	n := math.Floor(x/math.Ln2 + 0.5)
	r := x - float64(n*ln2Hi) - float64(n*ln2Lo)
	// Taylor series; the first term left out is below 1e-17 for |r| <= ln(2)/2.
	sum := 1.0
	for k := 13.0; k >= 1; k-- {
		sum = 1 + float64(sum*r)/k
	}
	return math.Ldexp(sum, int(n))
}
