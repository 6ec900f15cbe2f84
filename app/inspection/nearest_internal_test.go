package inspection

import (
	"testing"

	"github.com/stretchr/testify/require"
)

func TestOnlyASlipIsTakenForAnotherWord(t *testing.T) {
	names := []string{"hem 48", "wing to door"}
	for typed, said := range map[string]string{
		"wing to dor":  `; did you mean "wing to door"?`,
		"Wing To Door": `; did you mean "wing to door"?`,
		"hem 50":       "", // another number is another thing
		"hem48":        `; did you mean "hem 48"?`,
		"tailgate":     "",
	} {
		require.Equal(t, said, meant(typed, names), typed)
	}
}
