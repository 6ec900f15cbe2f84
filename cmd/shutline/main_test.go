package main

import (
	"bytes"
	"os"
	"os/exec"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"github.com/stretchr/testify/require"

	"shutline/app"
)

func TestMetadataIsThatOfThePackage(t *testing.T) {
	data, err := os.ReadFile("../../FyneApp.toml")
	require.NoError(t, err)
	var file struct {
		Details struct {
			Icon, Name, ID, Version string
			Build                   int
		}
		Migrations map[string]bool
	}
	require.NoError(t, toml.Unmarshal(data, &file))
	m := metadata()
	require.Equal(t, file.Details.ID, m.ID)
	require.Equal(t, file.Details.Name, m.Name)
	require.Equal(t, file.Details.Version, m.Version)
	require.Equal(t, file.Details.Build, m.Build)
	require.Equal(t, file.Migrations, m.Migrations)
	require.FileExists(t, "../../"+file.Details.Icon)
}

func TestWithoutADisplayItSaysSo(t *testing.T) {
	for _, c := range []struct{ display, says string }{
		{"", "there is no display"},
		{":4711", "does not answer"},
		{"nonsense", "does not answer"},
	} {
		self, err := os.Executable()
		require.NoError(t, err)
		p := exec.Command(self)
		p.Env = append(os.Environ(), asProgram+"=1", "LANG=en_US.UTF-8", "LC_ALL=", "DISPLAY="+c.display, "HOME="+t.TempDir())
		out, err := p.CombinedOutput()
		var exit *exec.ExitError
		require.ErrorAs(t, err, &exit)
		require.Equal(t, exitNoDisplay, exit.ExitCode(), string(out))
		require.Contains(t, string(out), c.says)
		require.Contains(t, string(out), "shutcheck")
		require.NotContains(t, string(out), "panic")
		require.Equal(t, 1, bytes.Count(out, []byte("\n")), "one sentence")
	}
}

// A program whose window is closed ends, also where the toolkit waits for itself.
func TestItEndsOnceTheWindowIsClosed(t *testing.T) {
	self, err := os.Executable()
	require.NoError(t, err)
	p := exec.Command(self)
	p.Env = append(os.Environ(), asStuck+"=1")
	out, err := p.CombinedOutput()
	require.NoError(t, err, string(out))
	require.Empty(t, out)
}

func TestWrongUsage(t *testing.T) {
	var out, fault bytes.Buffer
	require.Equal(t, app.ExitUsage, run([]string{"a", "b", "c"}, &out, &fault))
	require.Contains(t, fault.String(), "usage: shutline")
	fault.Reset()
	require.Equal(t, app.ExitUsage, run([]string{"--nonsense"}, &out, &fault))
	require.Contains(t, fault.String(), "nonsense")
	require.Equal(t, app.ExitDone, run([]string{"--version"}, &out, &fault))
	require.Contains(t, out.String(), appVersion)
	out.Reset()
	require.Equal(t, app.ExitDone, run([]string{"--help"}, &out, &fault))
	require.Contains(t, out.String(), "usage: shutline")
}

func TestFaultsAreWords(t *testing.T) {
	var out bytes.Buffer
	require.Equal(t, exitNoDisplay, report(&app.FaultError{What: "NotInitialized: The GLFW library is not initialized"}, &out))
	require.Contains(t, out.String(), "OpenGL")
	out.Reset()
	require.Equal(t, app.ExitFault, report(&app.FaultError{What: "index out of range", Stack: []byte("main.go:1")}, &out))
	require.Contains(t, out.String(), "please report")
	require.Equal(t, app.ExitDone, report(nil, &out))
}
