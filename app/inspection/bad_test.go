package inspection_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"shutline/app/inspection"
)

const (
	okScan = "[scan]\nfile = \"s.stl\"\n"
	okRef  = okScan + "[reference]\nfile = \"r.stl\"\n"
	okSeam = okScan + "[[seam]]\npath = [[0,0,0],[0,0,50]]\n"
	okSpot = okRef + "[[point]]\nat = [0,0,0]\n"
	okLen  = okScan + "[[length]]\nfrom = [0,0,0]\nto = [9,0,0]\n"
)

func TestBadFiles(t *testing.T) {
	for _, c := range []struct {
		name, file   string
		line, column int
		key, says    string
	}{
		{"one radius", okSeam + "radius = 1.5\n", 5, 10, "seam[0].radius", "must be a list of 2 numbers, such as radius = [1.5, 1.5] (side A and B), not a number"},
		{"one face", okSeam + "face = 5\n", 5, 8, "seam[0].face", "such as face = [2.5, 12.5], not a number"},
		{"one tolerance", okSeam + "gap = { nominal = 4, tolerance = 0.8 }\n", 5, 34, "seam[0].gap.tolerance", "such as tolerance = [-0.8, 0.8], not a number"},
		{"a word for a tolerance", okSeam + "gap = { nominal = 4, tolerance = \"1\" }\n", 5, 34, "seam[0].gap.tolerance", "such as tolerance = [-1.0, 1.0], not text"},
		{"syntax", okScan + "x = = 1\n", 3, 5, "", "not valid TOML"},
		{"key twice", okScan + "file = \"t.stl\"\n", 3, 1, "", "not valid TOML"},
		{"empty", "", 0, 0, "scan.file", "is missing"},
		{"no scan file", "[scan]\nunits = \"mm\"\n", 1, 2, "scan.file", "file = \"NAME.stl\""},
		{"blank scan file", "[scan]\nfile = \" \"\n", 2, 8, "scan.file", "is missing"},
		{"unknown table", okScan + "[surfaces]\n", 3, 2, "surfaces", `"surface"`},
		{"unknown key", okScan + "unit = \"mm\"\n", 3, 1, "scan.unit", `"units"`},
		{"unknown key in seam", okSeam + "widow = 3\n", 5, 1, "seam[0].widow", `"window"`},
		{"unknown key in target", okSeam + "gap = { nominal = 4, tolerence = [0, 1] }\n", 5, 22, "seam[0].gap.tolerence", `"tolerance"`},
		{"nominal for taper", okSeam + "taper = { nominal = 4 }\n", 5, 11, "seam[0].taper.nominal", "no such key"},
		{"number with a comma in quotes", okScan + "noise = \"0,03\"\n", 3, 9, "scan.noise", "must be a number, not text; write 0.03, without quotes and with a point"},
		{"number in quotes", okScan + "noise = \" 4 \"\n", 3, 9, "scan.noise", "write 4, without quotes"},
		{"a nominal from no seam", okSeam + "gap = { nominal_from = \"left seam\", tolerance = [-1, 1] }\n", 5, 24, "seam[0].gap.nominal_from", `there is no seam "left seam", nor any other here that could be one's nominal; write "other side"`},
		{"plural of a slip", okScan + "[[seems]]\nname = \"a\"\n", 3, 3, "seems", `the nearest known one is "seam"`},
		{"some commas for points", okScan + "[[seam]]\nname = \"a\"\npath = [[765,58, 51,2, 25], [0, 0, 50]]\n", 5, 9, "seam[0].path[0]", "there are 5: in numbers write a point, not a comma"},
		{"text for number", okScan + "noise = \"3\"\n", 3, 9, "scan.noise", "must be a number, not text"},
		{"number for text", "title = 3\n" + okScan, 1, 9, "title", "must be text in quotes, not a number"},
		{"date for number", okScan + "noise = 2020-01-01\n", 3, 9, "scan.noise", "not a date or time"},
		{"hash", okScan + "sha256 = \"12ab\"\n", 3, 10, "scan.sha256", "64 hexadecimal digits"},
		{"nan", okScan + "noise = nan\n", 3, 9, "scan.noise", "finite"},
		{"inf", okRef + "[surface]\ntolerance = [-inf, 1]\n", 6, 14, "surface.tolerance[0]", "finite"},
		{"noise beyond measure", okScan + "noise = 1e300\n", 3, 9, "scan.noise", "must be at most 10 mm, not 1e+300"},
		{"a part on fire", okScan + "temperature = 1e9\n", 3, 15, "scan.temperature", "must be -40 to 200 °C, not 1e+09"},
		{"tolerance beyond measure", okRef + "[surface]\ntolerance = [-1e308, 1e308]\n", 6, 13, "surface.tolerance", "must be at least -1000 mm, not -1e+308"},
		{"reach beyond measure", okRef + "[surface]\nreach = 1e30\n", 6, 9, "surface.reach", "must be at most 1000 mm, not 1e+30"},
		{"gap beyond measure", okSeam + "gap = { nominal = 4e9 }\n", 5, 19, "seam[0].gap.nominal", "must be at most 1000 mm, not 4e+09"},
		{"gap tolerance beyond measure", okSeam + "gap = { nominal = 4, tolerance = [-1, 1e9] }\n", 5, 34, "seam[0].gap.tolerance", "must be at most 1000 mm, not 1e+09"},
		{"taper beyond measure", okSeam + "taper = { tolerance = [-1, 1e9] }\n", 5, 23, "seam[0].taper.tolerance", "must be at most 1000 mm per 100 mm, not 1e+09"},
		{"stretch beyond measure", okSeam + "stretch = [{ to = 20, gap = { nominal = -1e9, tolerance = [-1, 1] } }]\n", 5, 41, "seam[0].stretch[0].gap.nominal", "must be at least -1000 mm, not -1e+09"},
		{"point beyond measure", okSpot + "tolerance = [-1e9, 1]\n", 7, 13, "point[0].tolerance", "must be at least -1000 mm"},
		{"allowed beyond measure", okLen + "known = 9\nallowed = { a = 1e99 }\n", 7, 17, "length[0].allowed.a", "must be at most 1000 mm, not 1e+99"},
		{"negative path", okScan + "travelled = -50000\n", 3, 13, "scan.travelled", "must be more than 0 mm"},
		{"negative noise", okScan + "noise = -0.1\n", 3, 9, "scan.noise", "must not be negative"},
		{"reach within the tolerance", okRef + "[surface]\nreach = 0.5\ntolerance = [-0.8, 0.8]\n", 6, 9, "surface.reach", "no more than the tolerance of 0.8 mm"},
		{"negative reach", okRef + "[surface]\nreach = -1\n", 6, 9, "surface.reach", "more than 0 mm"},
		{"zero spacing", okSeam + "every = 0\n", 5, 9, "seam[0].every", "more than 0 mm"},
		{"too many stations", okSeam + "every = 1e-9\n", 5, 9, "seam[0].every", "more than 10000 stations; write a larger every"},
		{"more stations than can be counted", okSeam + "every = 5e-324\n", 5, 9, "seam[0].every", "more than 10000 stations"},
		{"spacing beyond all bodies", okSeam + "every = 1e308\n", 5, 9, "seam[0].every", "at most 10000 mm"},
		{"endless path", okScan + "[[seam]]\npath = [[0,0,0],[0,0,1e9]]\n", 4, 8, "seam[0].path", "1e+09 mm of path cut every 25 mm"},
		{"wide window", okSeam + "window = 1e9\n", 5, 10, "seam[0].window", "at most 300 mm"},
		{"wide band", okSeam + "band = 1e9\n", 5, 8, "seam[0].band", "at most 300 mm"},
		{"wide face", okSeam + "face = [2.5, 1e9]\n", 5, 8, "seam[0].face", "at most 300 mm"},
		{"large radius", okSeam + "radius = [1.5, 1e9]\n", 5, 10, "seam[0].radius", "at most 300 mm"},
		{"negative band", okSeam + "band = -8.0\n", 5, 8, "seam[0].band", "more than 0 mm"},
		{"negative face", okSeam + "face = [-1, 3]\n", 5, 8, "seam[0].face", "must not be negative"},
		{"face order", okSeam + "face = [5, 3]\n", 5, 8, "seam[0].face", "lower limit comes first"},
		{"zero radius", okSeam + "radius = [0, 1]\n", 5, 10, "seam[0].radius", "radii must be more than 0"},
		{"tolerance order", okRef + "[surface]\ntolerance = [0.5, -0.5]\n", 6, 13, "surface.tolerance", "lower limit comes first"},
		{"tolerance length", okRef + "[surface]\ntolerance = [0.5]\n", 6, 13, "surface.tolerance", "there are 1"},
		{"unit", okScan + "units = \"ft\"\n", 3, 9, "scan.units", `"ft" is not known; write one of "mm", "cm", "m", "in"`},
		{"method", okRef + "[place]\nmethod = \"bestfit\"\n", 6, 10, "place.method", `write one of "best-fit", "datums", "pairs", "given", "none"; did you mean "best-fit"?`},
		{"no datums", okRef + "[place]\nmethod = \"datums\"\n", 6, 10, "place.method", `"datums" needs datums = [ { point`},
		{"no pairs", okRef + "[place]\nmethod = \"pairs\"\n", 6, 10, "place.method", `"pairs" needs pairs = [ { scan`},
		{"no matrix", okRef + "[place]\nmethod = \"given\"\n", 6, 10, "place.method", `"given" needs matrix = [16 numbers`},
		{"datums as text", okRef + "[place]\ndatums = \"six\"\n", 6, 10, "place.datums", "must be a list, datums = [ {"},
		{"one datum", okRef + "[place]\ndatums = [{ point = [0,0,0], normal = [0,0,1] }]\n", 6, 10, "place.datums", "must be six datums"},
		{"datum without normal", okRef + "[place]\ndatums = [{ point = [0,0,0] }]\n", 6, 11, "place.datums[0]", "normal is missing"},
		{"datum without direction", okRef + "[place]\ndatums = [{ point = [0,0,0], normal = [0,0,0] }]\n", 6, 39, "place.datums[0].normal", "no direction"},
		{"datum with an unknown key", okRef + "[place]\ndatums = [{ point = [0,0,0], norm = [0,0,1] }]\n", 6, 30, "place.datums[0].norm", `"normal"`},
		{"datum of nan", okRef + "[place]\ndatums = [{ point = [0,nan,0], normal = [0,0,1] }]\n", 6, 24, "place.datums[0].point[1]", "finite"},
		{"two pairs", okRef + "[place]\npairs = [{ scan = [0,0,0], reference = [0,0,0] }, { scan = [1,0,0], reference = [1,0,0] }]\n", 6, 9, "place.pairs", "three pairs or more (at most 1000), each { scan"},
		{"pairs of nothing", okRef + "[place]\npairs = []\n", 6, 9, "place.pairs", "there are 0"},
		{"a pair twice", okRef + "[place]\npairs = [{ scan = [0,0,0], reference = [1,0,0] }, { scan = [0,9,0], reference = [1,9,0] }, { scan = [0,0,0], reference = [1,0,0] }]\n", 6, 92, "place.pairs[2]", "is pair 1 written again"},
		{"half a pair", okRef + "[place]\npairs = [{ scan = [0,0,0] }, {}, {}]\n", 6, 10, "place.pairs[0]", "reference is missing"},
		{"no region", okRef + "[place]\nregion = []\n", 6, 10, "place.region", "leave region out"},
		{"region without radius", okRef + "[place]\nregion = [{ centre = [0,0,0] }]\n", 6, 11, "place.region[0]", "radius is missing"},
		{"region of no size", okRef + "[place]\nregion = [{ centre = [0,0,0], radius = 0 }]\n", 6, 40, "place.region[0].radius", "more than 0 mm"},
		{"datums on nothing", okScan + "[place]\nmethod = \"datums\"\n", 4, 10, "place.method", "take out line 4 (method in [place]), or add a [reference]"},
		{"region of nothing", okScan + "[place]\nregion = [{ centre = [0,0,0], radius = 2 }]\n", 4, 10, "place.region", "take out line 4 (region in [place]), or add a [reference]"},
		{"two mirrors", okRef + "mirror = \"x\"\nmirror_plane = { point = [0,0,0], normal = [0,1,0] }\n", 6, 16, "reference.mirror_plane", `stands beside mirror = "x"`},
		{"mirror without normal", okRef + "mirror_plane = { point = [0,0,0] }\n", 5, 16, "reference.mirror_plane", "normal is missing"},
		{"mirror without direction", okRef + "mirror_plane = { point = [0,0,0], normal = [0,0,0] }\n", 5, 44, "reference.mirror_plane.normal", "no direction"},
		{"point without a reference", okScan + "[[point]]\nat = [0,0,0]\n", 3, 3, "point[0]", "add a [reference]"},
		{"point nowhere", okRef + "[[point]]\nname = \"a\"\n", 5, 3, "point[0]", "at = [x, y, z] in mm"},
		{"point of two numbers", okRef + "[[point]]\nat = [1, 2]\n", 6, 6, "point[0].at", "there are 2"},
		{"point that is none", okRef + "[[point]]\nat = [1, nan, 2]\n", 6, 10, "point[0].at[1]", "finite"},
		{"point on the moon", okRef + "[[point]]\nat = [1, 1e10, 2]\n", 6, 6, "point[0].at", "from the origin"},
		{"points of one name", okSpot + "name = \"A\"\n[[point]]\nname = \"A\"\nat = [1,0,0]\n", 9, 8, "point[1].name", "also the name of point[0]"},
		{"point without a width", okSpot + "radius = 0\n", 7, 10, "point[0].radius", "more than 0 mm"},
		{"point as wide as a door", okSpot + "radius = 500\n", 7, 10, "point[0].radius", "at most 100 mm"},
		{"point's tolerance", okSpot + "tolerance = [1, -1]\n", 7, 13, "point[0].tolerance", "lower limit comes first"},
		{"unknown key in point", okSpot + "radios = 3\n", 7, 1, "point[0].radios", `"radius"`},
		{"mirror", okRef + "mirror = \"X\"\n", 5, 10, "reference.mirror", `did you mean "x"?`},
		{"best fit on nothing", okScan + "[place]\nmethod = \"best-fit\"\n", 4, 10, "place.method", "take out line 4 (method in [place]), or add a [reference]"},
		{"share of nothing", okScan + "[surface]\nshare = 0.9\n", 4, 9, "surface.share", "take out line 4 (share in [surface]), or add a [reference]"},
		{"both of nothing", okScan + "[surface]\nshare = 0.9\n[place]\nmethod = \"best-fit\"\n", 6, 10, "place.method", "take out line 6 (method in [place]) and line 4 (share in [surface]), or"},
		{"not text", okScan + "\x00", 0, 0, "", "not text"},
		{"share", okRef + "[surface]\nshare = 95\n", 6, 9, "surface.share", "0.95 means 95 %"},
		{"view", okRef + "[surface]\nviews = [\"lef\"]\n", 6, 10, "surface.views[0]", `did you mean "left"?`},
		{"view twice", okRef + "[surface]\nviews = [\"left\", \"left\"]\n", 6, 18, "surface.views[1]", "named twice"},
		{"edge", okSeam + "edges = [\"round\", \"rund\"]\n", 5, 19, "seam[0].edges[1]", `did you mean "round"?`},
		{"one edge", okSeam + "edges = [\"round\"]\n", 5, 9, "seam[0].edges", "two words"},
		{"master", okSeam + "master = \"C\"\n", 5, 10, "seam[0].master", `"C" is no side of a seam; write "A" or "B": walking along the path with the outside up, A is on the left`},
		{"master in small", okSeam + "master = \"b\"\n", 5, 10, "seam[0].master", `write "B", as a capital`},
		{"master by name", okSeam + "name = \"wing to door left\"\nmaster = \"Door\"\n", 6, 10, "seam[0].master", `write "B", which the seam's name says is the door`},
		{"master of no panel", okSeam + "name = \"wing to door\"\nmaster = \"roof\"\n", 6, 10, "seam[0].master", `write "A" (its name says: the wing) or "B" (the door)`},
		{"pictures", okSeam + "pictures = \"some\"\n", 5, 12, "seam[0].pictures", `"worst", "none", "all"`},
		{"no path", okScan + "[[seam]]\nname = \"a\"\n", 3, 3, "seam[0]", "path is missing"},
		{"empty path", okScan + "[[seam]]\npath = []\n", 4, 8, "seam[0].path", "there are none"},
		{"one point", okScan + "[[seam]]\npath = [[1,2,3]]\n", 4, 8, "seam[0].path", "there is one"},
		{"same points", okScan + "[[seam]]\npath = [[1,2,3],[1.0,2,3]]\n", 4, 8, "seam[0].path", "there are 2, all the same"},
		{"flat point", okScan + "[[seam]]\npath = [[1,2,3],[1,2]]\n", 4, 17, "seam[0].path[1]", "there are 2"},
		{"far point", okScan + "[[seam]]\npath = [[1,2,3],[1,2,1e10]]\n", 4, 17, "seam[0].path[1]", "from the origin"},
		{"seam as table", okScan + "[seam]\npath = []\n", 3, 2, "seam", "[[seam]]"},
		{"seams of one name", okSeam + "name = \"a\"\n[[seam]]\nname = \"a\"\npath = [[0,0,0],[0,0,5]]\n", 7, 8, "seam[1].name", "also the name of seam[0]"},
		{"control character", okScan + "[[seam]]\nname = \"a\\nb\"\n", 4, 8, "seam[0].name", "control characters"},
		{"empty target", okSeam + "gap = {}\n", 5, 7, "seam[0].gap", "is empty"},
		{"same ends", okScan + "[[length]]\nfrom = [1,0,0]\nto = [1,0,0]\n", 5, 6, "length[0].to", "same point"},
		{"ends too close to tell apart", okScan + "[[length]]\nfrom = [0,0,0]\nto = [0,0,1e-300]\n", 5, 6, "length[0].to", "same point"},
		{"no end", okScan + "[[length]]\nfrom = [1,0,0]\n", 3, 3, "length[0]", "to is missing"},
		{"plan for nothing", okScan + "[plan]\npath = 9000\n", 3, 2, "plan", "wanted is missing"},
		{"plan for no error", okScan + "[plan]\nwanted = 0\n", 4, 10, "plan.wanted", "more than 0"},
		{"plan of half an error", okScan + "[plan]\nwanted = 1\nseen = [ { path = 9000 } ]\n", 5, 10, "plan.seen[0]", "path = 50000, off = 10"},
		{"plan of a number", okScan + "[plan]\nwanted = 1\nseen = 10\n", 5, 8, "plan.seen", "must be a list"},
		{"what-if without reference", okScan + "[surface]\ndrift_taken_out = true\n", 4, 19, "surface.drift_taken_out", "there is no [reference]"},
		{"point and form", okScan + "[[length]]\nfrom = [1,0,0]\nto = { plane = [9,0,0], radius = 3 }\n", 4, 8, "length[0].from", "the other end a form"},
		{"two forms in one", okScan + "[[length]]\nfrom = { plane = [1,0,0], sphere = [1,0,0], radius = 3 }\nto = { plane = [9,0,0], radius = 3 }\n", 4, 8, "length[0].from", "must name one form"},
		{"form without radius", okScan + "[[length]]\nfrom = { sphere = [1,0,0] }\nto = { plane = [9,0,0], radius = 3 }\n", 4, 8, "length[0].from", "radius is missing"},
		{"axis of a plane", okScan + "[[length]]\nfrom = { plane = [1,0,0], radius = 3, axis = [0,0,1] }\nto = { plane = [9,0,0], radius = 3 }\n", 4, 46, "length[0].from.axis", "belongs to a cylinder"},
		{"axis without direction", okScan + "[[length]]\nfrom = { cylinder = [1,0,0], radius = 3, axis = [0,0,0] }\nto = { plane = [9,0,0], radius = 3 }\n", 4, 49, "length[0].from.axis", "has no direction"},
		{"unknown form", okScan + "[[length]]\nfrom = { cone = [1,0,0], radius = 3 }\nto = { plane = [9,0,0], radius = 3 }\n", 4, 10, "length[0].from.cone", "no such key"},
		{"forms in one place", okScan + "[[length]]\nfrom = { sphere = [1,0,0], radius = 3 }\nto = { plane = [1,0,0], radius = 3 }\n", 5, 6, "length[0].to", "same place"},
		{"extremes beside from", okScan + "[[length]]\nextremes = \"x\"\nfrom = [1,0,0]\n", 5, 8, "length[0].from", "stands beside extremes"},
		{"extremes of no axis", okScan + "[[length]]\nextremes = \"w\"\n", 4, 12, "length[0].extremes", "is not known"},
		{"zero known", okLen + "known = 0\n", 6, 9, "length[0].known", "more than 0"},
		{"tiny known", okLen + "known = 1e-300\n", 6, 9, "length[0].known", "at least 0.001 mm"},
		{"allowed of nothing", okLen + "allowed = { a = 1 }\n", 6, 11, "length[0].allowed", "needs known"},
		{"nothing allowed", okLen + "known = 9\nallowed = { a = 0 }\n", 7, 11, "length[0].allowed", "must allow more than 0"},
		{"too cold", okScan + "temperature = -300\n", 3, 15, "scan.temperature", "must be -40 to 200 °C, not -300"},
		{"expansion", okScan + "expansion = 11.5\n", 3, 13, "scan.expansion", "steel is 11.5e-6"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := inspection.Decode([]byte(c.file), "job.toml")
			var e *inspection.Error
			require.ErrorAs(t, err, &e)
			require.Contains(t, err.Error(), c.says)
			require.Equal(t, [2]int{c.line, c.column}, [2]int{e.Line, e.Column}, err)
			require.Equal(t, c.key, e.Key)
			require.Contains(t, err.Error(), "job.toml")
		})
	}
}

func TestMatrixMustBeRigid(t *testing.T) {
	head := okRef + "[place]\nmethod = \"given\"\n"
	for _, c := range []struct{ name, matrix, says string }{
		{"missing", "", "needs matrix"},
		{"short", "matrix = [1, 0, 0]", "there are 3"},
		{"scaled", "matrix = [2,0,0,0, 0,2,0,0, 0,0,2,0, 0,0,0,1]", "orthogonality fails: the largest entry of R·Rᵀ − 1 is 3 "},
		{"sheared", "matrix = [1,0.001,0,0, 0,1,0,0, 0,0,1,0, 0,0,0,1]", "orthogonality fails: the largest entry of R·Rᵀ − 1 is 0.001"},
		{"mirrored", "matrix = [-1,0,0,0, 0,1,0,0, 0,0,1,0, 0,0,0,1]", "the determinant is -1.000000"},
		{"by columns", "matrix = [1,0,0,0, 0,1,0,0, 0,0,1,0, 5,6,7,1]", "the last row must be 0, 0, 0, 1"},
		{"nan", "matrix = [nan,0,0,0, 0,1,0,0, 0,0,1,0, 0,0,0,1]", "finite"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := inspection.Decode([]byte(head+c.matrix+"\n"), "job.toml")
			require.ErrorContains(t, err, c.says)
		})
	}
	// Six decimals are enough.
	_, err := inspection.Decode([]byte(head+"matrix = [0.866025,-0.5,0,1, 0.5,0.866025,0,2, 0,0,1,3, 0,0,0,1]\n"), "job.toml")
	require.NoError(t, err)
	_, err = inspection.Decode([]byte(okRef+"[place]\nmatrix = [1]\n"), "job.toml")
	require.ErrorContains(t, err, "there are 1", "a matrix that is only compared with must be one, too")
}

func TestLongKeysAndManyFaultsGiveShortMessages(t *testing.T) {
	_, err := inspection.Decode([]byte(okScan+strings.Repeat("k", 5000)+" = 1\n"), "job.toml")
	require.Error(t, err)
	require.Less(t, len(err.Error()), 400)
	require.False(t, strings.Contains(err.Error(), "\n"))
}

func TestDeepFilesAreRefusedInLinearTime(t *testing.T) {
	for _, file := range []string{
		"x = " + strings.Repeat("[", 9000) + strings.Repeat("]", 9000),
		strings.Repeat("a.", 20000) + "a = 1",
		"[" + strings.Repeat("a.", 20000) + "a]",
		"x = " + strings.Repeat("{a = ", 5000) + "1" + strings.Repeat("}", 5000),
	} {
		_, err := inspection.Decode([]byte(file), "job.toml")
		require.Error(t, err)
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(full))
	f.Add([]byte(okSeam + "gap = { nominal = nan }\n[[seam]]\n[seam.gap]\nx=1\n"))
	f.Add([]byte("scan = 3\nseam = [1, [2]]\nlength = [{from=[1]}]\n"))
	f.Add([]byte("a.b.c = [[[{d = 1}]]]\n[[a.x]]\n[a.x.y]\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		i, err := inspection.Decode(data, "job.toml")
		if err != nil {
			var e *inspection.Error
			require.True(t, errors.As(err, &e), "%T", err)
			require.NotContains(t, err.Error(), "\n")
			return
		}
		again, err := i.Encode(".")
		require.NoError(t, err)
		_, err = inspection.Decode(again, "job.toml")
		require.NoError(t, err)
	})
}

func TestHabitsFromElsewhereAreNamed(t *testing.T) {
	for text, says := range map[string]string{
		"[scan]\nfile = \"..\\demo\\scan.stl\"\n":                        "in a path write / in place of \\, or put it in single quotes",
		okScan + "noise = 0,03\n":                                        "in numbers write a point, not a comma",
		okScan + "[[seam]]\ngap = { nominal = 4,0, tolerance = [1, 2] }": "in numbers write a point, not a comma",
		okScan + "[[seam]]\npath = [[757,98, 27,85, 193,00]]":            "in numbers write a point, not a comma",
	} {
		_, err := inspection.Decode([]byte(text), "x.toml")
		require.ErrorContains(t, err, says, text)
	}
}
