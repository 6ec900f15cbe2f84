package ui

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// hand is a drag whose pictures follow one another as the machine draws them.
type hand struct {
	pace
	now time.Time
}

// drag takes n pictures, each asked for as soon as the one before was taken.
func (h *hand) drag(n int, apart func(level int) time.Duration) {
	for range n {
		asked := h.now
		h.now = h.now.Add(apart(h.level))
		h.taken(h.now, asked)
	}
}

func (h *hand) rest() {
	h.now = h.now.Add(restAfter)
	h.rested(h.now)
}

func (h *hand) wait(d time.Duration) { h.now = h.now.Add(d) }

func newHand() *hand { return &hand{now: time.Unix(1e9, 0)} }

// quick spares the more the quicker: 36, 24, 17, 13 ms.
func quick(level int) time.Duration {
	return []time.Duration{36, 24, 17, 13}[level] * time.Millisecond
}

func TestPaceSparesNothingWhereNothingFallsShort(t *testing.T) {
	h := newHand()
	h.drag(200, func(int) time.Duration { return 24 * time.Millisecond })
	require.Equal(t, eases[0], eases[h.level])
	require.EqualValues(t, 1, eases[0].size)
}

func TestPaceSparesNoMoreThanNeeded(t *testing.T) {
	h := newHand()
	h.drag(200, quick)
	require.Equal(t, 1, h.level, "one step is enough")
	h.rest()
	h.wait(time.Hour)
	h.drag(200, quick)
	h.rest()
	require.Equal(t, 1, h.level, "less would fall short again")
}

// Nothing becomes finer while the view moves: the picture would flicker.
func TestPaceTriesLessAfterARestOnly(t *testing.T) {
	h := newHand()
	slow := true
	apart := func(level int) time.Duration {
		if slow {
			return quick(level)
		}
		return 17 * time.Millisecond
	}
	h.drag(20, apart)
	h.rest()
	require.Equal(t, 1, h.level)
	slow = false
	h.drag(20, apart)
	h.rest()
	require.Equal(t, 1, h.level, "not before a minute has passed")
	h.wait(again)
	h.drag(20, apart)
	require.Equal(t, 1, h.level, "not while it moves")
	h.rest()
	require.Equal(t, 0, h.level)
}

// What does not help is not kept.
func TestPaceTakesBackWhatIsOfNoUse(t *testing.T) {
	h := newHand()
	stuck := func(int) time.Duration { return 40 * time.Millisecond }
	h.drag(200, stuck)
	require.Equal(t, len(eases)-1, h.level, "everything is tried")
	h.rest()
	require.Equal(t, 0, h.level)
	h.drag(200, stuck)
	require.Equal(t, 0, h.level, "not again so soon")
	h.wait(again)
	h.drag(200, stuck)
	require.Equal(t, len(eases)-1, h.level)
}

// A step that does not help by itself is passed over for one that does.
func TestPacePassesOverWhatIsOfNoUse(t *testing.T) {
	h := newHand()
	h.drag(200, func(level int) time.Duration {
		return []time.Duration{36, 36, 20, 20}[level] * time.Millisecond
	})
	h.rest()
	require.Equal(t, 2, h.level)
}

// A hand that pauses, or turns slowly, says nothing about the machine.
func TestPaceIsNotMisledByASlowHand(t *testing.T) {
	h := newHand()
	for range 200 {
		h.wait(60 * time.Millisecond)
		asked := h.now
		h.wait(10 * time.Millisecond)
		h.taken(h.now, asked)
	}
	require.Zero(t, h.level)
}
