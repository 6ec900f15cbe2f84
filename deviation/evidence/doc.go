// Package evidence writes what an inspection found into a folder: tables,
// pictures, and results.json, which holds everything. It computes nothing: it
// writes what it is given.
//
// The same record gives the same bytes, whatever the number of threads and the
// folder: no clock time, no path of the output and no map order stands in any
// file but run.json, which holds the times and is not part of that promise.
//
// Numbers: lengths in mm, angles in degrees, shares and ppm are written with a
// fixed number of decimals (mm, shares and angles of stations 6, uncertainties of
// rotations 9, ppm 3) without a negative zero; the entries of the placement's
// matrix as the shortest decimal that reads back to the same float64. A number
// that is missing, NaN or infinite is an empty cell, and null in JSON.
//
// Tables are RFC 4180: commas, CRLF at line ends, quotes where needed, UTF-8,
// one header line. Text that starts with = + - @, a tab or a carriage return
// gets an apostrophe in front, so that a spreadsheet shows it and runs nothing.
//
// Everything is first written into a folder beside the results (inside, where
// the folder exists) and then renamed, results.json last: results are whole, or
// they have no results.json.
package evidence
