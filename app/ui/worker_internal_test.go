package ui

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app"
)

// A panic aside is said in the window's words and ends nothing.
func TestPanicAsideIsSaid(t *testing.T) {
	said := make(chan error, 1)
	k := worker{post: func(do func()) { do() }, failed: func(err error) { said <- err }}
	k.aside(func() { panic("boom") })
	var fault *app.FaultError
	require.ErrorAs(t, <-said, &fault)
	require.Equal(t, "boom", fault.What)
	require.NotEmpty(t, fault.Stack)
	done := make(chan error, 1)
	k.aside(func() { done <- errors.New("no fault") })
	require.EqualError(t, <-done, "no fault")
	require.Empty(t, said)
}
