#!/usr/bin/env bash
# Prints one table: closest points and index building here and in general-purpose
# libraries (Embree, CGAL, VTK) on the same case, one after the other on this machine.
#
#   peers.sh [PEERS_DIR [WORK_DIR]]
#
# PEERS_DIR holds the libraries' program (CMakeLists.txt, run.sh, make_case.py); without
# it only our own figures are printed. WORK_DIR (default: a folder under the
# system's temporary one) keeps the case and the built program for the next run.
# REF and SCAN set the sizes in triangles, RUNS the repetitions of ours (the best counts).
set -euo pipefail
root=$(cd "$(dirname "$0")/../../.." && pwd)
peers=${1:-}
work=${2:-${TMPDIR:-/tmp}/shutline-peers}
ref=${REF:-1000000} scan=${SCAN:-2000000} runs=${RUNS:-3}
mkdir -p "$work"
theirs="$work/peers.tsv" ours="$work/ours.txt"
: >"$theirs"
unset SHUTLINE_BENCH_CASE
if [ -z "$peers" ]; then
  echo "left out: Embree, CGAL and VTK (no folder with peers given); ours runs on a made-up sheet"
elif [ ! -x "$peers/run.sh" ]; then
  echo "left out: Embree, CGAL and VTK ($peers has no run.sh); ours runs on a made-up sheet"
elif ! (cd "$work" && "$peers/run.sh" "$work" "$ref" "$scan") >"$theirs" 2>"$work/peers.log" && ! grep -q '^closest point' "$theirs"; then
  echo "left out: Embree, CGAL and VTK (their program could not be built or run, see $work/peers.log)"
fi
[ -f "$work/case/ref.stl" ] && [ -n "$peers" ] && export SHUTLINE_BENCH_CASE="$work/case"
(cd "$root" && CGO_ENABLED=0 go test ./mesh/bvh -run '^$' -bench 'Build|Closest' -benchtime 1s -count "$runs" -timeout 30m) >"$ours"

echo "processor: $(sed -n 's/^cpu: //p' "$ours" | head -n 1), $(nproc) usable; ours: best of $runs"
awk -F '\t' -v ours="$ours" '
  function best(name, unit,    line, n, f, k, v) {
    v = 0
    while ((getline line < ours) > 0) {
      n = split(line, f, /[ \t]+/)
      if (f[1] !~ "^Benchmark" name "(-[0-9]+)?$") continue
      for (k = 2; k < n; k++) if (f[k + 1] == unit && f[k] + 0 > v) v = f[k] + 0
    }
    close(ours)
    return v
  }
  function row(work, peer, threads, rate, mine) {
    printf "%-30s %-36s %7s %9.2f %9.2f %8.2f\n", work, peer, threads, rate, mine, mine / rate
  }
  BEGIN {
    printf "%-30s %-36s %7s %9s %9s %8s\n", "work (million a second)", "peer", "threads", "peer", "ours", "ratio"
    one = best("Build/one", "Mtri/s"); all = best("Build/all", "Mtri/s")
    closest1 = best("Closest/file-order", "Mq/s"); closest2 = best("Closest/file-order-all", "Mq/s")
    random1 = best("Closest/random", "Mq/s")
    far1 = best("Closest/60mm-away", "Mq/s")
  }
  $1 == "index" { row("index (triangles)", $2, $3, $5, $3 == 1 ? one : all); rows++ }
  $1 == "closest point" { row("closest, file order", $2, $3, $5, $3 == 1 ? closest1 : closest2); rows++ }
  $1 == "closest point, random order" && $3 == 1 { row("closest, random order", $2, $3, $5, random1); rows++ }
  $1 == "closest point, 60 mm away" && $3 == 1 { row("closest, 60 mm away", $2, $3, $5, far1); rows++ }
  END { if (!rows) {
    printf "%-67s %17s %9.2f\n%-67s %17s %9.2f\n", "index, one thread", "", one, "index, all", "", all
    printf "%-67s %17s %9.2f\n%-67s %17s %9.2f\n", "closest, file order, one thread", "", closest1, "closest, file order, all", "", closest2
    printf "%-67s %17s %9.2f\n%-67s %17s %9.2f\n", "closest, random order", "", random1, "closest, 60 mm away", "", far1
  } }
' "$theirs"
[ -s "$theirs" ] && echo "60 mm away: ours starts at the last answer, the peer does not."
exit 0
