#include "simulate/distance_field.h"

#include <algorithm>
#include <cmath>

namespace debossier::simulate {
namespace {

using outline::Box;
using outline::Polyline;

constexpr double kFlatness = 1e-4;
/// Edges are cut to this length before those inside another shape are dropped.
constexpr double kPiece = 0.04;
/// How far to each side of an edge it is asked whether there is foil.
constexpr double kSideProbe = 2e-4;

struct Piece {
  Point from;
  Point to;
};

Box BoundsOf(const Shape& shape) {
  Box box;
  for (const Polyline& polygon : shape) {
    for (const Point& p : polygon) box.Add(p);
  }
  return box;
}

bool Within(const Box& box, const Point& p) {
  return p.x() >= box.min.x() && p.x() <= box.max.x() && p.y() >= box.min.y() &&
         p.y() <= box.max.y();
}

/// An edge that really separates filled from empty once all shapes are united.
bool IsOuterEdge(const Piece& piece, std::size_t own, const std::vector<Shape>& shapes,
                 const std::vector<Box>& boxes) {
  const Point middle = 0.5 * (piece.from + piece.to);
  const Point along = (piece.to - piece.from).normalized();
  const Point side(along.y(), -along.x());
  const bool right = outline::Contains(shapes[own], middle + kSideProbe * side);
  const bool left = outline::Contains(shapes[own], middle - kSideProbe * side);
  if (right == left) return false;
  for (std::size_t k = 0; k < shapes.size(); ++k) {
    if (k == own || !Within(boxes[k], middle)) continue;
    if (outline::Contains(shapes[k], middle)) return false;
  }
  return true;
}

std::vector<Piece> OuterEdges(const std::vector<Shape>& shapes, const std::vector<Box>& boxes) {
  std::vector<Piece> pieces;
  for (std::size_t own = 0; own < shapes.size(); ++own) {
    for (const Polyline& polygon : shapes[own]) {
      for (std::size_t k = 0; k < polygon.size(); ++k) {
        const Point& from = polygon[k];
        const Point& to = polygon[(k + 1) % polygon.size()];
        const double length = (to - from).norm();
        if (length < 1e-12) continue;
        const int count = std::max(1, static_cast<int>(std::ceil(length / kPiece)));
        for (int i = 0; i < count; ++i) {
          const Piece piece{from + (to - from) * (static_cast<double>(i) / count),
                            from + (to - from) * (static_cast<double>(i + 1) / count)};
          if (IsOuterEdge(piece, own, shapes, boxes)) pieces.push_back(piece);
        }
      }
    }
  }
  return pieces;
}

/// Lowers the squared distances of all cells within `band` of the piece.
void AddPiece(const Piece& piece, const Grid& grid, double band, Field& squared) {
  const Point low = grid.CellOf(piece.from.cwiseMin(piece.to) - Point(band, band));
  const Point high = grid.CellOf(piece.from.cwiseMax(piece.to) + Point(band, band));
  const int first_column = std::max(0, static_cast<int>(std::floor(low.x())));
  const int first_row = std::max(0, static_cast<int>(std::floor(low.y())));
  const int last_column = std::min(grid.size.width - 1, static_cast<int>(std::ceil(high.x())));
  const int last_row = std::min(grid.size.height - 1, static_cast<int>(std::ceil(high.y())));
  const Point span = piece.to - piece.from;
  const double inverse = 1 / span.squaredNorm();
  for (int j = first_row; j <= last_row; ++j) {
    for (int i = first_column; i <= last_column; ++i) {
      const Point offset = grid.At(i, j) - piece.from;
      const double t = std::clamp(offset.dot(span) * inverse, 0.0, 1.0);
      const auto distance = static_cast<float>((offset - t * span).squaredNorm());
      float& best = squared(j, i);
      if (distance < best) best = distance;
    }
  }
}

/// Marks the cells inside one shape (nonzero rule) by crossings with each row.
void MarkInside(const Shape& shape, const Box& box, const Grid& grid, cv::Mat1b& inside) {
  const int first = std::max(0, static_cast<int>(std::ceil(grid.CellOf(box.min).y())));
  const int last =
      std::min(grid.size.height - 1, static_cast<int>(std::floor(grid.CellOf(box.max).y())));
  std::vector<std::pair<double, int>> crossings;
  for (int row = first; row <= last; ++row) {
    const double y = grid.At(0, row).y();
    crossings.clear();
    for (const Polyline& polygon : shape) {
      for (std::size_t k = 0; k < polygon.size(); ++k) {
        const Point& a = polygon[k];
        const Point& b = polygon[(k + 1) % polygon.size()];
        if ((a.y() <= y) == (b.y() <= y)) continue;
        const double x = a.x() + (y - a.y()) / (b.y() - a.y()) * (b.x() - a.x());
        crossings.emplace_back((x - grid.origin.x()) / grid.step, b.y() > a.y() ? 1 : -1);
      }
    }
    std::sort(crossings.begin(), crossings.end());
    int winding = 0;
    for (std::size_t k = 0; k + 1 < crossings.size(); ++k) {
      winding += crossings[k].second;
      if (winding == 0) continue;
      const int from = std::max(0, static_cast<int>(std::ceil(crossings[k].first)));
      const int to =
          std::min(grid.size.width - 1, static_cast<int>(std::floor(crossings[k + 1].first)));
      for (int i = from; i <= to; ++i) inside(row, i) = 1;
    }
  }
}

}  // namespace

std::vector<Shape> Shapes(const outline::Lettering& lettering) {
  std::vector<Shape> shapes;
  for (const outline::Element& element : lettering.elements) {
    if (!element.outline.empty()) shapes.push_back(outline::Flatten(element.outline, kFlatness));
  }
  const outline::Outline rule = outline::FrameOutline(lettering.frame);
  if (!rule.empty()) shapes.push_back(outline::Flatten(rule, kFlatness));
  return shapes;
}

Field SignedDistance(const std::vector<Shape>& shapes, const Grid& grid, double band) {
  std::vector<Box> boxes;
  boxes.reserve(shapes.size());
  for (const Shape& shape : shapes) boxes.push_back(BoundsOf(shape));

  Field squared(grid.size, static_cast<float>(band * band));
  for (const Piece& piece : OuterEdges(shapes, boxes)) AddPiece(piece, grid, band, squared);
  cv::Mat1b inside(grid.size, static_cast<unsigned char>(0));
  for (std::size_t k = 0; k < shapes.size(); ++k) MarkInside(shapes[k], boxes[k], grid, inside);

  for (int j = 0; j < grid.size.height; ++j) {
    for (int i = 0; i < grid.size.width; ++i) {
      const float distance = std::sqrt(squared(j, i));
      squared(j, i) = inside(j, i) ? -distance : distance;
    }
  }
  return squared;
}

}  // namespace debossier::simulate
