package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
)

// peer is Mesa's software OpenGL, driven by the peers' program.
type peer struct {
	program string // as it is: for times
	level   string // without perspective and with our lights: for comparing pictures; "" where it could not be made
	why     string // why level could not be made
}

// peerSource is where the peers' folder holds the program.
const peerSource = "llvmpipe/llvmpipe_bench.c"

// buildPeer builds the peer's program in the work folder.
func buildPeer(ctx context.Context, peers, work string) (*peer, error) {
	source, err := os.ReadFile(filepath.Join(peers, peerSource))
	if err != nil {
		return nil, err
	}
	p := &peer{program: filepath.Join(work, "llvmpipe_bench")}
	if err := compile(ctx, string(source), p.program); err != nil {
		return nil, err
	}
	text := string(source)
	for _, c := range levelled {
		if strings.Count(text, c.old) != 1 {
			p.why = fmt.Sprintf("the peer's source does not hold %q once", c.old)
			return p, nil
		}
		text = strings.Replace(text, c.old, c.new, 1)
	}
	level := filepath.Join(work, "llvmpipe_level")
	if err := compile(ctx, text, level); err != nil {
		p.why = err.Error()
		return p, nil
	}
	p.level = level
	return p, nil
}

// levelled turns the peer's perspective view into ours, which is parallel, and its light into ours,
// so that its picture can be laid beside ours pixel by pixel. Geometry, depth test,
// interpolation and lookup stay Mesa's.
var levelled = []struct{ old, new string }{
	{"mvp[4 * c + 0] = f / aspect * R[0][c];", "mvp[4 * c + 0] = f / aspect / dist * R[0][c];"},
	{"mvp[4 * c + 1] = f * R[1][c];", "mvp[4 * c + 1] = f / dist * R[1][c];"},
	{"mvp[4 * c + 2] = (fa + n) / (n - fa) * R[2][c];", "mvp[4 * c + 2] = -R[2][c] / 4;"},
	{"mvp[4 * c + 3] = -R[2][c];", "mvp[4 * c + 3] = 0;"},
	{"mvp[14] = (fa + n) / (n - fa) * -dist + 2 * fa * n / (n - fa);", "mvp[14] = 0 * n * fa;"},
	{"mvp[15] = dist;", "mvp[15] = 1;"},
	{`"uniform mat4 m; uniform vec3 l; out vec2 v;\n"`, `"uniform mat4 m; uniform vec3 l; out vec3 v;\n"`},
	{`"void main(){ gl_Position=m*vec4(p,1.0); v=vec2(s,0.25+0.75*abs(dot(n,l))); }";`,
		`"void main(){ gl_Position=m*vec4(p,1.0);\n"
    " vec3 r=normalize(vec3(m[0][0],m[1][0],m[2][0])), u=normalize(vec3(m[0][1],m[1][1],m[2][1]));\n"
    " float k=0.45*dot(n,normalize(-0.25*r+0.55*u+0.80*l)), f=0.25*dot(n,normalize(0.75*r-0.10*u+0.65*l));\n"
    " v=vec3(s,0.44+max(k,0.0)+max(f,0.0),0.72*(0.44+max(-k,0.0)+max(-f,0.0))); }";`},
	{`precision highp float; uniform sampler2D t; in vec2 v;`, `precision highp float; uniform sampler2D t; in vec3 v;`},
	{`rgb*v.y,1.0)`, `rgb*(gl_FrontFacing?v.y:v.z),1.0)`},
}

// compile builds a C program out of its text.
func compile(ctx context.Context, text, program string) error {
	file := program + ".c"
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		return err
	}
	out, err := exec.CommandContext(ctx, "gcc", "-O2", "-o", program, file, "-lEGL", "-lGLESv2", "-lm").CombinedOutput()
	if err != nil {
		return fmt.Errorf("gcc: %w: %s", err, strings.TrimSpace(string(out)))
	}
	return nil
}

// A round of the peer's times peerFrames frames, of meshes of under a million triangles more, as ours does.
const peerFrames, peerMore = 7, 20

var peerLine = regexp.MustCompile(`draw_ms min=([0-9.]+) .*renderer="([^"]*)"`)

// time returns the least time of a frame in ms on two threads.
func (p *peer) time(ctx context.Context, shape string, triangles int) (float64, error) {
	frames := peerFrames
	if triangles < 1_000_000 {
		frames = peerMore
	}
	line, err := runPeer(ctx, p.program, shape, triangles, frames, "/dev/null")
	if err != nil {
		return 0, err
	}
	m := peerLine.FindStringSubmatch(line)
	if m == nil || !strings.Contains(m[2], "llvmpipe") {
		return 0, fmt.Errorf("the peer printed %q, not a time of llvmpipe", line)
	}
	return strconv.ParseFloat(m[1], 64)
}

func runPeer(ctx context.Context, program, shape string, triangles, frames int, ppm string) (string, error) {
	c := exec.CommandContext(ctx, program, shape, strconv.Itoa(triangles), "lut", strconv.Itoa(frames), ppm)
	c.Env = append(os.Environ(), "LIBGL_ALWAYS_SOFTWARE=1", "LP_NUM_THREADS=2")
	out, err := c.Output()
	if err != nil {
		return "", fmt.Errorf("%s %s %d: %w", program, shape, triangles, err)
	}
	return string(out), nil
}

// picture returns the first frame's pixels, three bytes each, in rows from the top.
func (p *peer) picture(ctx context.Context, shape string, triangles int) ([]byte, error) {
	file := p.level + ".ppm"
	defer os.Remove(file)
	if _, err := runPeer(ctx, p.level, shape, triangles, 1, file); err != nil {
		return nil, err
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, err
	}
	if len(data) < 3*width*height {
		return nil, fmt.Errorf("the peer's picture holds %d bytes, not %d by %d pixels", len(data), width, height)
	}
	return data[len(data)-3*width*height:], nil
}
