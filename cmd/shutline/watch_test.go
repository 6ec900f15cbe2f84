package main

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// A stack as Go 1.26 prints it, of the toolkit's loop that runs a function of ours, which measures a text.
const stackInToolkit = `goroutine 7 [select]:
main.watch()
	shutline/cmd/shutline/watch.go:40 +0x1

goroutine 1 [running, locked to thread]:
github.com/go-text/typesetting/shaping.(*HarfbuzzShaper).Shape(...)
	github.com/go-text/typesetting@v0.2.1/shaping/shaper.go:94
fyne.io/fyne/v2.MeasureText({0xc0, 0x2}, 0x1, {0x1, 0x0})
	fyne.io/fyne/v2@v2.7.1/text.go:70 +0x1
shutline/app/ui.wordWidth({0xc0, 0x2}, 0x1, 0x1)
	shutline/app/ui/prose.go:160 +0x1
shutline/app/bench.(*Bench).start.func1.1()
	shutline/app/bench/run.go:80 +0x1
fyne.io/fyne/v2/internal/driver/glfw.(*gLDriver).runGL(0xc0)
	fyne.io/fyne/v2@v2.7.1/internal/driver/glfw/loop.go:145 +0x1
main.main()
	shutline/cmd/shutline/main.go:43 +0x1

goroutine 8 [running]:
shutline/app/ui.other()
	shutline/app/ui/other.go:1 +0x1
`

func TestTheWatchTellsOursFromTheToolkits(t *testing.T) {
	require.Equal(t, place{outer: "app/bench.(*Bench).start.func1.1", inner: "app/ui.wordWidth", toolkit: true}, ourCode([]byte(stackInToolkit)))
	require.Equal(t, place{}, ourCode([]byte("goroutine 1 [running]:\nshutline/app/ui.New()\n\tapp/ui/window.go:1\n")), "not in the loop")
	require.Equal(t, place{}, ourCode(nil))
}
