#include "outline/blurred_edge.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace debossier::outline {

namespace {

constexpr double kPi = std::numbers::pi;
constexpr double kReach = 3.5;  // standard deviations; beyond it nothing counts

struct Piece {
  Point a;
  Point b;
};

/// The boundary in pieces short against the blur.
std::vector<Piece> Pieces(const Outline& outline, double sigma) {
  const double longest = 0.5 * sigma;
  std::vector<Piece> pieces;
  for (const Polyline& line : Flatten(outline, 0.02 * sigma)) {
    for (std::size_t i = 0; i < line.size(); ++i) {
      const Point& a = line[i];
      const Point& b = line[i + 1 < line.size() ? i + 1 : 0];
      const int count = std::clamp(static_cast<int>(std::ceil((b - a).norm() / longest)), 1, 2000);
      for (int k = 0; k < count; ++k) {
        pieces.push_back({a + (b - a) * (k / double(count)), a + (b - a) * ((k + 1.0) / count)});
      }
    }
  }
  return pieces;
}

/// Angle under which a piece is seen from a point, without the arctangent where it is small.
double Angle(const Point& a, const Point& b) {
  const double cross = a.x() * b.y() - a.y() * b.x();
  const double dot = a.dot(b);
  constexpr double kSmall = 0.15;
  if (dot > 0 && std::abs(cross) < kSmall * dot) {
    const double t = cross / dot;
    return t * (1 - t * t / 3);
  }
  return std::atan2(cross, dot);
}

}  // namespace

std::vector<double> BlurredShifts(const Outline& outline, const std::vector<EdgeSample>& samples,
                                  double sigma) {
  std::vector<double> shifts(samples.size(), 0.0);
  if (!(sigma > 0)) return shifts;
  const std::vector<Piece> pieces = Pieces(outline, sigma);
  const double reach = kReach * sigma;
  const double scale = -0.5 / (sigma * sigma);
  const double straight = std::sqrt(2 * kPi) * sigma;  // shift by missing coverage
  for (std::size_t i = 0; i < samples.size(); ++i) {
    const Point& p = samples[i].point;
    double missing = 0;
    for (const Piece& piece : pieces) {
      const Point a = piece.a - p;
      if (std::abs(a.x()) > reach || std::abs(a.y()) > reach) continue;
      const Point b = piece.b - p;
      const double r2 = 0.25 * (a + b).squaredNorm();
      if (r2 > reach * reach) continue;
      // The piece that holds the point is seen edge on: no angle, but for rounding's half turn.
      const double angle = Angle(a, b);
      if (std::abs(angle) > 0.9 * kPi) continue;
      missing += std::exp(scale * r2) * angle;
    }
    shifts[i] = std::clamp(-straight * missing / (2 * kPi), -sigma, sigma);
  }
  return shifts;
}

}  // namespace debossier::outline
