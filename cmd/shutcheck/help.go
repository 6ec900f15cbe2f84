package main

const help = `shutcheck: check a scanned panel against its reference: surface, gaps, flush, lengths.

  shutcheck inspect FILE.toml --out DIR   run an inspection, write its results into DIR
  shutcheck compare FIRST.toml SECOND.toml --out DIR
                                          what has changed between two scans of the same part
  shutcheck info MESH...                  what a mesh file holds: unit, size, faces, borders, faults
  shutcheck seams MESH                    find a body's shut lines, write them as the seams of an inspection file
  shutcheck demo --out DIR                write the demo job: meshes, inspection file, and the truth beside it
  shutcheck join PIECE... --out MESH      lay overlapping pieces together, make one mesh of them
  shutcheck COMMAND --help                the options of a command
  shutcheck --version

Exit status: 0 done, and everything that was judged conforms; 3 something does not conform; 4 something is
undecided and nothing fails; 64 wrong usage; 65 input that cannot be used, also where a seam could not be traced
or found, or no plane of a section meets the scan, and everything else was measured and written (3 where something
of that does not conform: the message says both); 66 a file that cannot be opened; 70 a fault of the program; 74
results that cannot be written; 130 interrupted.

A fit within tolerance says nothing about structure, welds, airbags, latches, high-voltage parts or
driver-assistance sensors behind a panel. Follow the vehicle maker's repair procedures, local rules and licensed
practice. Scanners may be lasers: mind their class and protect eyes.
`

var commandHelp = map[string]string{
	"inspect": `shutcheck inspect FILE.toml --out DIR: run an inspection, write its results into DIR.

  --out DIR     folder for the results; made when it does not exist
  --replace     allow a folder that holds other results or files (files that are not results stay);
                the same inspection of the same meshes may be written again without it
  --json        print results.json, without its stations and files, instead of text
  --threads N   use N processors; the results are the same for any number (default: all)

DIR gets results.json (everything), run.json (times), tables (.csv) and pictures (.png). All are written, or none.

In [place], method says how scan and reference are brought together: "best-fit" (on the parts in region, where
there are any), "datums" (six, 3-2-1), "pairs" (of points), "given" (a matrix) or "none". What the others need may
stand beside: placements.csv then tells how far apart the methods are. In [reference], mirror = "x", "y", "z" or
"find", or mirror_plane, takes the other side of a symmetric body as the reference.
`,
	"compare": `shutcheck compare FIRST.toml SECOND.toml --out DIR: what has changed between two scans of the same part,
before and after a repair, or one variant beside another. Both inspections must name the same reference.

  --out DIR     folder for the results; made when it does not exist
  --limit MM    the least change of the surface that matters (default: a quarter of the width of the first
                inspection's surface tolerance)
  --replace     allow a folder that holds other results or files (files that are not results stay)
  --json        print results.json, without its stations and files, instead of text
  --threads N   use N processors; the results are the same for any number (default: all)

Changes are the second result less the first: positive, the surface now stands prouder. A change is "changed" when it is
larger than its uncertainty, "not changed" when even with it it stays under the limit, else "undecided". Nothing is
judged: the exit status is 0 whatever has changed.
DIR gets results.json, difference.csv (every sample of the reference), changes.csv (connected places), station-changes.csv
(seams of the same name and path in both), point-changes.csv (named points of both) and a picture for each view of the first.
`,
	"info": `shutcheck info MESH...: what mesh files (.stl .ply .obj .glb) hold: unit, size, faces, borders, faults, and what
they can be used as. A folder stands for the mesh files in it.

  --units UNIT  the unit of the files' numbers, mm cm m in, where the size does not tell it
  --json        print it as JSON instead of text
  --threads N   use N processors (default: all)
`,
	"seams": `shutcheck seams MESH > FILE.toml: find the shut lines of a body, write them as an inspection file.

  --units UNIT  the unit of the file's numbers, mm cm m in, where the size does not tell it
  --drawing     the mesh is a drawing: its borders are edges of panels (of a scan, the border of a hole is none)
  --json        print the seams as JSON instead
  --threads N   use N processors; the paths are the same for any number (default: all)

Each seam is named by where it lies (X rearward, Y to the right, Z up). Side A is the panel nearer the front, on
seams that run along the vehicle the upper one. Check names and sides, add tolerances, then inspect. In an inspection
file, find = true in a [[seam]] does the same, and trace = true follows the gap between the points of its path.
`,
	"demo": `shutcheck demo --out DIR: write the demo job: meshes, inspection file, and the truth beside it.

  --out DIR     folder for the job; made when it does not exist
  --replace     allow a folder that holds other files
  --size N      triangles of the scan (more are finer and slower)
  --seed N      another scan of the same part: other noise, other pose
  --scans       instead: the whole van, scanned once round by a good and by a poor scanner, and in six pieces begun at
                their ends and in their middles, each with an inspection file
  --json        print what was written as JSON instead of text
  --threads N   use N processors; the files are the same for any number (default: all)

The job: the left side of a made-up parcel van with a replacement wing that does not quite fit.
`,
	"join": `shutcheck join PIECE... --out MESH: lay overlapping pieces of one body together, make one mesh of them.

  --out MESH        the joined mesh, .stl or .ply; overlaps.csv and pieces.csv are written beside it
  --reference MESH  join them onto this mesh (default: the first piece stays where it is)
  --markers FILE    named points that pieces share, a table with the columns marker,piece,x_mm,y_mm,z_mm,U_mm:
                    a row for each marker on each piece (or on "reference"), in its own coordinates
  --units UNIT      the unit of the files' numbers, mm cm m in, where their size does not tell it
  --replace         allow files of these names to be replaced
  --json            print what was found as JSON instead of text
  --threads N       use N processors; the files are the same for any number (default: all)

Every overlap is laid together by itself first: what is left is compared with what the noise of the two pieces explains.
More is "different shape": at least one of the two is deformed, and joining only spreads that. Then all pieces are laid
at once, so that every round closes and the error is spread by its uncertainty. Overlaps are blended; how far the skins
were apart is in overlaps.csv. Pieces must overlap by a hand's width; ones that share no frame need more, or markers.
Nothing is judged: the exit status is 0 whatever the shapes are.
`,
}

func helpFor(command string) string {
	if h, ok := commandHelp[command]; ok {
		return h
	}
	return help
}
