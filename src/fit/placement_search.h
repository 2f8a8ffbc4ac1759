// Where may a known lettering lie? Few candidates, from pairs of components.
//
// Every pair of neighbouring components whose sizes and second moments agree with a pair of
// neighbouring reference parts proposes a similarity; proposals are scored by how many other parts
// find their component, and the best are refined to an affine map by least squares (the scheme of
// RANSAC, Fischler and Bolles 1981, with all pairs instead of random ones).
// Frames: stamp (cap heights, y up) to map pixels (y down).
// Not for: the final placement; FitWhole starts from these.
#pragma once

#include <Eigen/Core>
#include <vector>

#include "outline/lettering.h"
#include "reading/components.h"

namespace debossier::fit {

/// One connected part of the reference drawing, in the stamp frame.
struct ReferencePart {
  Eigen::Vector2d centroid{0, 0};
  Eigen::Matrix2d covariance = Eigen::Matrix2d::Zero();
  double area = 0;
};

/// Letters that nearly touch are one part in one photo and two in another: both are worth trying.
enum class Touching { kApart, kJoined };

/// The parts of a lettering as a mask would show them, in reading order: every element drawn alone,
/// or all in one drawing. Drawn at `px_per_cap` pixels a cap height.
std::vector<ReferencePart> ReferenceParts(const outline::Lettering& lettering, Touching touching,
                                          double px_per_cap = 32);

struct PlacementCandidate {
  Eigen::Matrix<double, 2, 3> map_from_stamp;  ///< Affine.
  double matched = 0;  ///< Share of the reference's parts (by weight) that found a component.
  int parts = 0;       ///< How many.
};

struct SearchOptions {
  int neighbours = 10;  ///< Partners tried per component.
  int max_candidates = 6;
  double min_scale = 6;         ///< Map pixels per cap height; specks match anything below.
  double size_tolerance = 2.2;  ///< Ratio of areas that still counts as agreement.
};

/// Finds candidates, best first; empty where nothing agrees.
std::vector<PlacementCandidate> SearchPlacement(const std::vector<reading::Component>& components,
                                                const std::vector<ReferencePart>& parts,
                                                const SearchOptions& options = {});

}  // namespace debossier::fit
