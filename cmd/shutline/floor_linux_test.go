package main

import (
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// Where addresses are limited the program says so in one sentence before Go's runtime ends it in a dump; above the floor it starts.
func TestFewAddressesAreSaid(t *testing.T) {
	self, err := os.Executable()
	require.NoError(t, err)
	under := func(kilo int) ([]byte, error) {
		p := exec.Command("sh", "-c", fmt.Sprintf(`ulimit -v %d && exec "$0" --version`, kilo), self)
		p.Env = append(os.Environ(), asProgram+"=1", "LANG=en_US.UTF-8", "LC_ALL=")
		return p.CombinedOutput()
	}
	for _, kilo := range []int{200_000, 500_000, 900_000, 1_100_000, 1_300_000, 1_600_000, 2_000_000, 2_500_000, 3_100_000} {
		out, err := under(kilo)
		var exit *exec.ExitError
		require.True(t, errors.As(err, &exit), "%d kB: %s", kilo, out)
		require.Equal(t, 71, exit.ExitCode(), "%d kB: %s", kilo, out)
		require.True(t, strings.HasPrefix(string(out), fmt.Sprintf("shutline: addresses are limited to %d MB (ulimit -v), and ", kilo*1024/1e6)), string(out))
		require.Equal(t, 1, strings.Count(string(out), "\n"), string(out))
	}
	out, err := under(3_200_000)
	require.NoError(t, err, string(out))
	require.Equal(t, "shutline "+appVersion+"\n", string(out))
}
