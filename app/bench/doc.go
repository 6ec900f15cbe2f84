// Package bench is the state behind the window: the job on the bench, what was
// found, what is out of date, what is selected, and the work under way. It
// knows no toolkit.
//
// A Bench belongs to one goroutine, the one that draws. Work runs on others and
// comes back through the post function it was given; results of a run that was
// stopped or overtaken are dropped.
package bench
