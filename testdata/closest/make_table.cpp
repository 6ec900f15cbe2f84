// Writes closest.txt: for points around ../open/gearwheel.stl the exact closest
// point of the mesh, the distance and the side, by CGAL's AABB tree with exact
// constructions. Build and run: see README.md.
#include <CGAL/AABB_traits.h>
#include <CGAL/AABB_tree.h>
#include <CGAL/AABB_triangle_primitive.h>
#include <CGAL/Exact_predicates_exact_constructions_kernel.h>
#include <algorithm>
#include <cmath>
#include <cstdint>
#include <cstdio>
#include <cstring>
#include <fstream>
#include <iterator>
#include <random>
#include <vector>

using K = CGAL::Exact_predicates_exact_constructions_kernel;
using It = std::vector<K::Triangle_3>::iterator;
using Tree = CGAL::AABB_tree<CGAL::AABB_traits<K, CGAL::AABB_triangle_primitive<K, It>>>;

int main(int argc, char** argv) {
  if (argc != 2) { std::fprintf(stderr, "usage: make_table MESH.stl > closest.txt\n"); return 64; }
  std::ifstream in(argv[1], std::ios::binary);
  std::vector<char> bytes((std::istreambuf_iterator<char>(in)), {});
  uint32_t n; std::memcpy(&n, &bytes[80], 4);
  std::vector<K::Triangle_3> triangles;
  double lo[3] = {1e300, 1e300, 1e300}, hi[3] = {-1e300, -1e300, -1e300};
  for (uint32_t t = 0; t < n; ++t) {
    float c[9]; std::memcpy(c, &bytes[84 + 50 * t + 12], 36);
    for (int k = 0; k < 9; ++k) { lo[k % 3] = std::min<double>(lo[k % 3], c[k]); hi[k % 3] = std::max<double>(hi[k % 3], c[k]); }
    K::Triangle_3 tri(K::Point_3(c[0], c[1], c[2]), K::Point_3(c[3], c[4], c[5]), K::Point_3(c[6], c[7], c[8]));
    if (!tri.is_degenerate()) triangles.push_back(tri);
  }
  Tree tree(triangles.begin(), triangles.end());
  tree.accelerate_distance_queries();
  std::mt19937_64 random(20);  // its raw output is the same everywhere
  auto unit = [&] { return (random() >> 11) * 0x1p-53; };
  std::printf("# x y z  closest point  distance  side (1 outside, -1 inside, 0 on the mesh), mesh units\n");
  for (int i = 0; i < 800; ++i) {
    double p[3];
    double wide = i % 4 == 0 ? 1.0 : 0.1;  // a quarter well away, the rest in and close around the box
    for (int k = 0; k < 3; ++k) {
      double size = hi[k] - lo[k];
      p[k] = std::round((lo[k] - wide * size + unit() * (1 + 2 * wide) * size) * 256) / 256;
    }
    K::Point_3 at(p[0], p[1], p[2]);
    K::Point_3 q = tree.closest_point(at);
    K::FT d2 = CGAL::squared_distance(at, q);
    int side = 0;
    if (d2 != 0) side = tree.number_of_intersected_primitives(K::Ray_3(at, K::Vector_3(0.3141592, 0.2718281, 0.9123581))) % 2 ? -1 : 1;
    std::printf("%.17g %.17g %.17g  %.17g %.17g %.17g  %.17g  %d\n", p[0], p[1], p[2], CGAL::to_double(q.x()), CGAL::to_double(q.y()),
                CGAL::to_double(q.z()), std::sqrt(CGAL::to_double(d2)), side);
  }
}
