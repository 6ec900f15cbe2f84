package evidence

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestSoonLetsGoWhenItIsToldTo(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	v, err := soon(ctx, func() int { return 7 })
	require.NoError(t, err)
	require.Equal(t, 7, v)
	require.PanicsWithValue(t, "broken", func() { _, _ = soon(ctx, func() int { panic("broken") }) })
	never := make(chan struct{})
	defer close(never)
	begun := make(chan struct{})
	go func() { <-begun; cancel() }()
	_, err = soon(ctx, func() int { close(begun); <-never; return 7 })
	require.ErrorIs(t, err, context.Canceled)
	var b strings.Builder
	_, err = stopping{&b, ctx}.Write([]byte("more"))
	require.ErrorIs(t, err, context.Canceled)
	require.Empty(t, b.String())
}
