#include "fit/placement_search.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <complex>
#include <opencv2/imgproc.hpp>
#include <unordered_map>

#include "separate/raster.h"

namespace debossier::fit {

std::vector<ReferencePart> ReferenceParts(const outline::Lettering& lettering, Touching touching,
                                          double px_per_cap) {
  outline::Box box;
  for (const auto& e : lettering.elements) box.Add(outline::Bounds(e.outline));
  if (box.empty()) return {};
  const double scale = std::min(px_per_cap, 4000 / std::max(box.width(), box.height()));
  const cv::Size size(cvCeil(box.width() * scale) + 5, cvCeil(box.height() * scale) + 5);
  std::vector<ReferencePart> parts;
  // `corner`: of the mask within the picture of the whole.
  const auto add_parts = [&](const cv::Mat& mask, const cv::Point& corner) {
    reading::ComponentOptions options;
    options.min_area = 3;
    options.max_side_share = 2;
    for (const auto& c : reading::FindComponents(mask, options, nullptr)) {
      ReferencePart part;
      part.area = c.area / (scale * scale);
      part.centroid = {(c.centroid.x() + corner.x - 2) / scale + box.min.x(),
                       box.max.y() - (c.centroid.y() + corner.y - 2) / scale};
      part.covariance = c.covariance / (scale * scale);
      part.covariance(0, 1) *= -1;  // y up
      part.covariance(1, 0) *= -1;
      parts.push_back(part);
    }
  };
  cv::Mat all = cv::Mat::zeros(size, CV_8U);
  for (const auto& e : lettering.elements) {
    auto polygons = outline::Flatten(e.outline, 0.25 / scale);
    const outline::Box own_box = outline::Bounds(e.outline);
    if (own_box.empty()) continue;
    const auto in_picture = [&](const outline::Point& p) {
      return outline::Point((p.x() - box.min.x()) * scale + 2, (box.max.y() - p.y()) * scale + 2);
    };
    const outline::Point top_left = in_picture({own_box.min.x(), own_box.max.y()});
    const cv::Point corner(cvFloor(top_left.x()) - 2, cvFloor(top_left.y()) - 2);
    for (auto& polygon : polygons) {
      for (auto& p : polygon) p = in_picture(p) - outline::Point(corner.x, corner.y);
    }
    cv::Mat own = cv::Mat::zeros(cvCeil(own_box.height() * scale) + 6,
                                 cvCeil(own_box.width() * scale) + 6, CV_8U);
    separate::FillPolygons(polygons, own);
    if (touching == Touching::kApart) {
      add_parts(own, corner);
    } else {
      const cv::Rect within = cv::Rect(corner, own.size()) & cv::Rect(cv::Point(), size);
      all(within) |= own(within - corner);
    }
  }
  if (touching == Touching::kJoined) add_parts(all, {});
  std::stable_sort(parts.begin(), parts.end(), [](const auto& a, const auto& b) {
    const double row_a = std::round(a.centroid.y());
    const double row_b = std::round(b.centroid.y());
    if (row_a != row_b) return row_a > row_b;
    return a.centroid.x() < b.centroid.x();
  });
  return parts;
}

namespace {

using Complex = std::complex<double>;

Complex ToComplex(const Eigen::Vector2d& v) { return {v.x(), v.y()}; }

/// Components in square cells, for finding those near a place.
class CellIndex {
 public:
  CellIndex(const std::vector<reading::Component>& components, double cell) : cell_(cell) {
    for (std::size_t i = 0; i < components.size(); ++i) {
      cells_[Key(components[i].centroid)].push_back(static_cast<int>(i));
    }
  }
  template <class Visit>
  void Near(const Eigen::Vector2d& p, double radius, Visit visit) const {
    const int reach = static_cast<int>(std::ceil(radius / cell_));
    const auto [cx, cy] = Cell(p);
    for (int y = cy - reach; y <= cy + reach; ++y) {
      for (int x = cx - reach; x <= cx + reach; ++x) {
        const auto it = cells_.find(Pack(x, y));
        if (it == cells_.end()) continue;
        for (const int i : it->second) visit(i);
      }
    }
  }

 private:
  std::pair<int, int> Cell(const Eigen::Vector2d& p) const {
    return {static_cast<int>(std::floor(p.x() / cell_)),
            static_cast<int>(std::floor(p.y() / cell_))};
  }
  static std::int64_t Pack(int x, int y) {
    return (static_cast<std::int64_t>(x) << 32) ^ static_cast<std::uint32_t>(y);
  }
  std::int64_t Key(const Eigen::Vector2d& p) const {
    const auto [x, y] = Cell(p);
    return Pack(x, y);
  }
  double cell_;
  std::unordered_map<std::int64_t, std::vector<int>> cells_;
};

/// The reference with y turned down, so that a similarity without reflection fits.
struct Part {
  Complex centroid;
  Eigen::Matrix2d covariance;
  double area = 0;
  double weight = 0;
};

std::vector<Part> Flipped(const std::vector<ReferencePart>& parts) {
  std::vector<Part> out;
  for (const auto& p : parts) {
    constexpr double kWholeArea = 0.15;  // square cap heights: about a letter's foil
    Part part;
    part.centroid = {p.centroid.x(), -p.centroid.y()};
    part.covariance = p.covariance;
    part.covariance(0, 1) *= -1;
    part.covariance(1, 0) *= -1;
    part.area = p.area;
    part.weight = std::min(1.0, std::sqrt(p.area / kWholeArea));
    out.push_back(part);
  }
  return out;
}

/// How far a component may be from its part's size.
constexpr double kSizeRatio = 2.5;

struct Similarity {
  Complex factor;
  Complex offset;
};

bool ShapesAgree(const reading::Component& c, const Part& part, const Complex& factor,
                 double tolerance) {
  const double scale2 = std::norm(factor);
  const double ratio = c.area / (scale2 * part.area);
  if (ratio > tolerance || ratio < 1 / tolerance) return false;
  const double cosine = factor.real() / std::sqrt(scale2);
  const double sine = factor.imag() / std::sqrt(scale2);
  Eigen::Matrix2d turn;
  turn << cosine, -sine, sine, cosine;
  const Eigen::Matrix2d predicted = scale2 * turn * part.covariance * turn.transpose();
  return (predicted - c.covariance).norm() < 0.5 * c.covariance.norm();
}

struct Match {
  int part = 0;
  int component = 0;
};

/// Which parts find a component under an affine prediction; positions within `tolerance` caps.
template <class Predict>
double MatchParts(const std::vector<reading::Component>& components, const CellIndex& index,
                  const std::vector<Part>& parts, double scale, double area_tolerance,
                  Predict predict, std::vector<Match>* matches) {
  double weight = 0;
  if (matches != nullptr) matches->clear();
  for (std::size_t k = 0; k < parts.size(); ++k) {
    const auto [place, tolerance] = predict(parts[k].centroid);
    const double radius = tolerance * scale;
    double best = radius;
    int found = -1;
    index.Near(place, radius, [&, centre = place](int i) {
      const double ratio = components[i].area / (scale * scale * parts[k].area);
      if (ratio > area_tolerance || ratio < 1 / area_tolerance) return;
      const double apart = (components[i].centroid - centre).norm();
      if (apart < best) {
        best = apart;
        found = i;
      }
    });
    if (found < 0) continue;
    weight += parts[k].weight * (1 - 0.5 * best / radius);
    if (matches != nullptr) matches->push_back({static_cast<int>(k), found});
  }
  return weight;
}

Eigen::Matrix<double, 2, 3> AffineFrom(const Similarity& s) {
  Eigen::Matrix<double, 2, 3> a;
  a << s.factor.real(), -s.factor.imag(), s.offset.real(), s.factor.imag(), s.factor.real(),
      s.offset.imag();
  return a;
}

/// Least-squares affine map over the matches, pulled to the similarity it starts from.
Eigen::Matrix<double, 2, 3> RefineAffine(const std::vector<reading::Component>& components,
                                         const std::vector<Part>& parts,
                                         const std::vector<Match>& matches,
                                         const Eigen::Matrix<double, 2, 3>& start) {
  Eigen::Matrix3d normal = Eigen::Matrix3d::Identity() * 1e-9;
  Eigen::Matrix<double, 2, 3> right = Eigen::Matrix<double, 2, 3>::Zero();
  Eigen::Vector3d mean = Eigen::Vector3d::Zero();
  for (const auto& m : matches) {
    mean += Eigen::Vector3d(parts[m.part].centroid.real(), parts[m.part].centroid.imag(), 1);
  }
  mean /= std::max<double>(1, mean.z());
  for (const auto& m : matches) {
    const Eigen::Vector3d x(parts[m.part].centroid.real(), parts[m.part].centroid.imag(), 1);
    const double w = parts[m.part].weight;
    const Eigen::Vector2d residual = components[m.component].centroid - start * x;
    normal += w * x * x.transpose();
    right += w * residual * x.transpose();
  }
  // A single line says nothing about scale across it: keep the similarity's there.
  Eigen::Matrix3d prior = Eigen::Matrix3d::Zero();
  const Eigen::Vector3d across(0, 1, -mean.y());
  const Eigen::Vector3d along(1, 0, -mean.x());
  prior += 1.0 * across * across.transpose() + 0.05 * along * along.transpose();
  normal += prior;
  return start + (normal.ldlt().solve(right.transpose())).transpose();
}

struct Proposal {
  Similarity similarity;
  double weight = 0;
};

bool IsHeavier(const Proposal& x, const Proposal& y) { return x.weight > y.weight; }

/// The search of one photo: proposals from pairs of components and parts, then their refinement.
class Search {
 public:
  Search(const std::vector<reading::Component>& components,
         const std::vector<ReferencePart>& reference, const SearchOptions& options)
      : components_(components),
        reference_(reference),
        options_(options),
        parts_(Flipped(reference)),
        index_(components, CellOf(components)) {
    for (const auto& p : parts_) total_weight_ += p.weight;
  }

  std::vector<PlacementCandidate> Candidates() {
    Propose();
    std::vector<PlacementCandidate> candidates;
    for (const Proposal& proposal : best_) {
      PlacementCandidate candidate = Refined(proposal.similarity);
      const bool is_known =
          std::any_of(candidates.begin(), candidates.end(),
                      [&](const auto& other) { return IsSame(other, candidate); });
      if (!is_known) candidates.push_back(std::move(candidate));
    }
    std::stable_sort(candidates.begin(), candidates.end(),
                     [](const auto& x, const auto& y) { return x.matched > y.matched; });
    if (static_cast<int>(candidates.size()) > options_.max_candidates) {
      candidates.resize(static_cast<std::size_t>(options_.max_candidates));
    }
    return candidates;
  }

 private:
  static double CellOf(const std::vector<reading::Component>& components) {
    double cell = 0;
    for (const auto& c : components) cell += std::sqrt(c.area);
    return std::max(4.0, 2 * cell / static_cast<double>(components.size()));
  }

  /// Fills `best_`, the heaviest first.
  void Propose() {
    // Lettering that is seen well gives itself away at its first pairs: a few proposals that match
    // most of it, and enough parts that no chance does, need no company.
    constexpr int kEnoughProposals = 5;
    constexpr std::size_t kMostKept = 4000;
    constexpr std::size_t kKept = 200;
    constexpr std::size_t kRefinedOfGood = 12;
    constexpr std::size_t kRefined = 60;
    for (std::size_t i = 0; i < components_.size() && good_ < kEnoughProposals; ++i) {
      for (const std::size_t j : Neighbours(i)) ProposeFrom(components_[i], components_[j]);
      // Keep the list short while it grows.
      if (best_.size() > kMostKept) {
        std::nth_element(best_.begin(), best_.begin() + kKept, best_.end(), IsHeavier);
        best_.resize(kKept);
      }
    }
    std::stable_sort(best_.begin(), best_.end(), IsHeavier);
    const std::size_t refined = good_ >= kEnoughProposals ? kRefinedOfGood : kRefined;
    if (best_.size() > refined) best_.resize(refined);
  }

  /// The components nearest to one of them, as far as six sizes.
  std::vector<std::size_t> Neighbours(std::size_t i) const {
    std::vector<std::pair<double, std::size_t>> near;
    for (std::size_t j = 0; j < components_.size(); ++j) {
      if (j == i) continue;
      const double size = std::sqrt(std::max(components_[i].box.area(), components_[j].box.area()));
      const double apart = (components_[i].centroid - components_[j].centroid).norm();
      if (apart < 6 * size) near.emplace_back(apart, j);
    }
    const std::size_t keep = std::min<std::size_t>(options_.neighbours, near.size());
    std::partial_sort(near.begin(), near.begin() + static_cast<std::ptrdiff_t>(keep), near.end());
    std::vector<std::size_t> nearest;
    nearest.reserve(keep);
    for (std::size_t k = 0; k < keep; ++k) nearest.push_back(near[k].second);
    return nearest;
  }

  /// Tries two components as every pair of parts that follow each other closely.
  void ProposeFrom(const reading::Component& a, const reading::Component& b) {
    const int n = static_cast<int>(parts_.size());
    for (int p = 0; p < n; ++p) {
      for (int q = p + 1; q <= std::min(n - 1, p + 3); ++q) ProposeAs(a, b, parts_[p], parts_[q]);
    }
  }

  void ProposeAs(const reading::Component& a, const reading::Component& b, const Part& p,
                 const Part& q) {
    constexpr double kMost = 0.6;  // share of the parts, as is
    constexpr double kLeast = 0.3;
    constexpr double kLeastWeight = 2;
    constexpr double kBeyondChance = 5;
    constexpr double kLeastApart = 0.15;  // cap heights: closer parts fix no direction
    constexpr double kOff = 0.12;         // cap heights from the predicted place
    constexpr double kOffByDistance = 0.05;
    constexpr double kMostOff = 0.6;
    const Complex e = q.centroid - p.centroid;
    if (std::norm(e) < kLeastApart * kLeastApart) return;
    // Not the library's quotient, which spends its time on infinities.
    const Complex factor =
        (ToComplex(b.centroid) - ToComplex(a.centroid)) * std::conj(e) / std::norm(e);
    if (std::norm(factor) < options_.min_scale * options_.min_scale) return;
    if (!ShapesAgree(a, p, factor, options_.size_tolerance) ||
        !ShapesAgree(b, q, factor, options_.size_tolerance)) {
      return;
    }
    const Complex offset = ToComplex(a.centroid) - factor * p.centroid;
    const Complex middle = 0.5 * (p.centroid + q.centroid);
    const auto predict = [&](const Complex& c) {
      const Complex place = factor * c + offset;
      const double tolerance = std::min(kMostOff, kOff + kOffByDistance * std::abs(c - middle));
      return std::pair(Eigen::Vector2d(place.real(), place.imag()), tolerance);
    };
    const double weight =
        MatchParts(components_, index_, parts_, std::abs(factor), kSizeRatio, predict, nullptr);
    if (weight < kLeastWeight && weight < kLeast * total_weight_) return;
    best_.push_back({{factor, offset}, weight});
    good_ += weight > std::max(kMost * total_weight_, kBeyondChance);
  }

  PlacementCandidate Refined(const Similarity& similarity) const {
    constexpr double kFirstOff = 0.45;  // cap heights from the predicted place
    constexpr double kLastOff = 0.25;
    std::vector<Match> matches;
    Eigen::Matrix<double, 2, 3> affine = AffineFrom(similarity);
    double weight = 0;
    for (int round = 0; round < 4; ++round) {
      const double scale = std::sqrt(std::abs(affine.leftCols<2>().determinant()));
      const double tolerance = round == 0 ? kFirstOff : kLastOff;
      const auto predict = [&](const Complex& c) {
        const Eigen::Vector2d place = affine * Eigen::Vector3d(c.real(), c.imag(), 1);
        return std::pair(place, tolerance);
      };
      weight = MatchParts(components_, index_, parts_, scale, kSizeRatio, predict, &matches);
      if (matches.size() < 3) break;
      affine = RefineAffine(components_, parts_, matches, affine);
    }
    PlacementCandidate candidate;
    candidate.map_from_stamp = affine;
    candidate.map_from_stamp.col(1) *= -1;  // back to y up
    candidate.matched = weight / total_weight_;
    candidate.parts = static_cast<int>(matches.size());
    return candidate;
  }

  /// True where both put the first and the last part at about the same place.
  bool IsSame(const PlacementCandidate& a, const PlacementCandidate& b) const {
    const double scale = std::sqrt(std::abs(b.map_from_stamp.leftCols<2>().determinant()));
    const auto apart = [&](const ReferencePart& part) {
      const Eigen::Vector3d at(part.centroid.x(), part.centroid.y(), 1);
      return ((a.map_from_stamp - b.map_from_stamp) * at).norm();
    };
    constexpr double kSame = 0.3;  // cap heights
    return apart(reference_.front()) < kSame * scale && apart(reference_.back()) < kSame * scale;
  }

  const std::vector<reading::Component>& components_;
  const std::vector<ReferencePart>& reference_;
  const SearchOptions& options_;
  std::vector<Part> parts_;
  CellIndex index_;
  double total_weight_ = 0;
  std::vector<Proposal> best_;
  int good_ = 0;
};

}  // namespace

std::vector<PlacementCandidate> SearchPlacement(const std::vector<reading::Component>& components,
                                                const std::vector<ReferencePart>& reference,
                                                const SearchOptions& options) {
  if (components.size() < 2 || reference.size() < 2) return {};
  return Search(components, reference, options).Candidates();
}

}  // namespace debossier::fit
