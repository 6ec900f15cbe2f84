package app

import "fmt"

// A drawing's triangles lie on its curves to the digits of its file, a scanner's points
// scatter: the noise that a mesh shows by itself tells one from the other. The gap
// between both limits leaves smoothed scans and worn tools out.
const (
	drawnNoise   = 0.002 // mm: no scanner of vehicle parts comes below
	scannedNoise = 0.01  // mm: no drawing scatters by
)

// Exchanged asks whether scan and reference have been taken for each other, by the noise
// that both show by themselves; "" where nothing speaks for it. Exchanged files turn
// every sign round, and nothing else would show it.
func (parts *Parts) Exchanged() string {
	scan, ref := parts.Examined.Scan, parts.Examined.Reference
	switch {
	case scan == nil || ref == nil || !scan.HasNoise || !ref.HasNoise:
		return ""
	case scan.Noise >= drawnNoise || ref.Noise <= scannedNoise || ref.NoiseIsShape():
		return ""
	}
	return fmt.Sprintf("The scan is as smooth as a drawing (under %.3f mm of noise) and the reference scatters by %.3f mm: have the files been swapped? Every sign would be turned round",
		drawnNoise, ref.Noise)
}
