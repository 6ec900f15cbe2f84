// Package ui is the window: widgets that show a bench and pass on what hands
// do. What is known about the job lives in app/bench, sentences in app/words,
// drawings in deviation/shade and deviation/chart; nothing is measured here.
//
// Everything runs on the drawing thread but two kinds of workers, the painter
// of the view and the drawers of charts, which hand finished pictures over by
// the post function.
package ui
