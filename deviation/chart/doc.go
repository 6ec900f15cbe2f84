// Package chart draws measured things in two dimensions: seam charts, station
// drawings, histograms and composed heat pictures, each as an image of exactly
// the size asked. The window and the evidence show the same drawings.
//
// Sizes w and h are device pixels; scale is device pixels per unit of layout,
// 1 on an ordinary screen and 2 on a HiDPI one. Lengths in charts are mm.
// Colours never stand alone: verdicts have a shape (tick, cross, question
// mark), a station without a number a hollow mark and a gap in the line.
//
// Drawings are the same bytes on any processor: outlines are turned into
// coverage in integers, and no product is fused into a sum before it.
package chart
