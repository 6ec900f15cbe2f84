package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestHarmlessComplaintsStayOffTheTerminal(t *testing.T) {
	var out bytes.Buffer
	q := &quiet{to: &out}
	for _, line := range []string{
		"2026/01/01 Fyne error:  Getting favorite locations\n", "2026/01/01   Cause: this computer does not define a VIDEOS folder\n", "2026/01/01   At: file.go:396\n",
		"2026/01/01 Fyne error:  The window is gone\n", "2026/01/01   Cause: it was closed\n",
	} {
		n, err := q.Write([]byte(line))
		require.NoError(t, err)
		require.Equal(t, len(line), n)
	}
	require.Equal(t, "2026/01/01 Fyne error:  The window is gone\n2026/01/01   Cause: it was closed\n", out.String())
}

func TestPreferencesThatCannotBeReadBeginAnew(t *testing.T) {
	path := filepath.Join(t.TempDir(), "preferences.json")
	mendPreferences(path)
	require.NoFileExists(t, path)
	for before, after := range map[string]string{"": "{}\n", `{"look":`: "{}\n", `{"look":"dark"}`: `{"look":"dark"}`,
		`[]`: "{}\n", `{"recent":["a",1]}`: "{}\n", `{"recent":[null,"a"]}`: "{}\n", `{"recent":["a","b"],"n":[],"k":[1,2]}`: `{"recent":["a","b"],"n":[],"k":[1,2]}`} {
		require.NoError(t, os.WriteFile(path, []byte(before), 0o600))
		mendPreferences(path)
		got, err := os.ReadFile(path)
		require.NoError(t, err)
		require.Equal(t, after, string(got))
	}
}

func TestHelpSaysNothingElseInAnyLocale(t *testing.T) {
	for _, locale := range []string{"C", "C.UTF-8", "POSIX", "", "en_US.UTF-8", "de_DE.UTF-8"} {
		self, err := os.Executable()
		require.NoError(t, err)
		p := exec.Command(self, "--help")
		p.Env = append(os.Environ(), asProgram+"=1", "LANG="+locale, "LC_ALL=", "LC_MESSAGES=", "LANGUAGE=", "HOME="+t.TempDir())
		var out, fault bytes.Buffer
		p.Stdout, p.Stderr = &out, &fault
		require.NoError(t, p.Run())
		require.Equal(t, usage, out.String())
		require.Empty(t, fault.String(), "locale %q", locale)
	}
}
