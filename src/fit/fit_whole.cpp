#include "fit/fit_whole.h"

#include "base/robust.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace debossier::fit {

PlacementShape ShapeOf(const Placement& placement, const Point& centre) {
  PlacementShape shape;
  const Eigen::Matrix2d j = placement.JacobianAt(centre);
  const double sx = j.col(0).norm();
  const double sy = j.col(1).norm();
  shape.scale = std::sqrt(std::abs(j.determinant()));
  shape.log_aspect = std::log(sx / sy);
  shape.shear = j.col(0).dot(j.col(1)) / (sx * sy);
  shape.turn = std::atan2(-j(1, 0), j(0, 0));
  const Eigen::Matrix3d& h = placement.photo_from_stamp;
  const double weight = h(2, 0) * centre.x() + h(2, 1) * centre.y() + h(2, 2);
  shape.perspective = Eigen::Vector2d(h(2, 0), h(2, 1)) / weight;
  return shape;
}

WarpIncrement WarpRow(const Point& x, const Point& n, const Point& centre) {
  const Point d = x - centre;
  WarpIncrement row;
  const double radial = n.dot(d);
  row << n.x(), n.x() * d.x(), n.x() * d.y(), n.y(), n.y() * d.x(), n.y() * d.y(), radial * d.x(),
      radial * d.y();
  return row;
}

void ApplyIncrement(const WarpIncrement& increment, const Point& centre, Placement& placement) {
  // The projective step d + d (p x + q y) is, to first order, a division by 1 - p x - q y.
  Eigen::Matrix3d step;
  step << 1 + increment[1], increment[2], increment[0], increment[4], 1 + increment[5],
      increment[3], -increment[6], -increment[7], 1;
  Eigen::Matrix3d to_centre = Eigen::Matrix3d::Identity();
  to_centre(0, 2) = -centre.x();
  to_centre(1, 2) = -centre.y();
  Eigen::Matrix3d from_centre = Eigen::Matrix3d::Identity();
  from_centre(0, 2) = centre.x();
  from_centre(1, 2) = centre.y();
  Eigen::Matrix3d& h = placement.photo_from_stamp;
  h = h * from_centre * step * to_centre;
  h /= h(2, 2);
}

void AddWarpPrior(const Placement& placement, const Point& centre, const WholeOptions& options,
                  Eigen::MatrixXd& normal, Eigen::VectorXd& right) {
  const PlacementShape shape = ShapeOf(placement, centre);
  const auto add = [&](const WarpIncrement& row, double current, double sd) {
    // The increment should bring `current` towards zero: (current + row . increment) / sd.
    const double w = 1 / (sd * sd);
    normal.topLeftCorner<8, 8>() += w * row * row.transpose();
    right.head<8>() -= w * current * row;
  };
  WarpIncrement row = WarpIncrement::Zero();
  if (!options.free_aspect) {
    row[1] = 1;
    row[5] = -1;
    add(row, shape.log_aspect, options.aspect_sd);
  }
  row.setZero();
  row[2] = 1;
  row[4] = 1;
  add(row, shape.shear, options.shear_sd);
  row.setZero();
  row[6] = -1;
  add(row, shape.perspective.x(), options.perspective_sd);
  row.setZero();
  row[7] = -1;
  add(row, shape.perspective.y(), options.perspective_sd);
}

namespace {

constexpr int kGain = 8;
constexpr int kAlong = 9;    // two amplitudes
constexpr int kAcross = 11;  // two amplitudes
constexpr int kUnknowns = 13;

struct StretchBasis {
  double p2 = 0;
  double p3 = 0;
};

StretchBasis BasisAt(const SmoothStretch& stretch, double x) {
  SmoothStretch unit = stretch;
  unit.along = {1, 0};
  unit.across = {0, 1};
  const Point d = unit.Displacement(x);
  return {d.x(), d.y()};
}

struct Residuals {
  std::vector<double> value;  ///< Displacement beyond the current model; NaN where none.
  double sigma = 0;           ///< Robust, about their median.
  /// What they are weighted by: the median where that lies far out, or edges that all lie further
  /// out, as after a heavy dwell on a crisp photo, would all be taken for strays.
  double scale = 0;
  double found = 0;
};

Residuals ReadAll(const EdgeReader& reader, const std::vector<ModelEdge>& edges, double gain,
                  double window) {
  Residuals out;
  out.value.resize(edges.size());
  double all = 0;
  double found = 0;
  std::vector<double> present;
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const EdgeReading r = reader.Read(edges[i].point, edges[i].normal, gain, window);
    all += edges[i].length;
    if (r.kind != EdgeReading::Kind::kEdge) {
      out.value[i] = std::nan("");
      continue;
    }
    found += edges[i].length;
    out.value[i] = r.displacement;
    present.push_back(r.displacement);
  }
  out.found = all > 0 ? found / all : 0;
  constexpr double kLeastSigma = 0.002;  // cap heights
  const RobustSpread spread = SpreadOf(std::move(present));
  out.sigma = std::max(spread.sigma, kLeastSigma);
  constexpr double kFarOut = 3;
  const bool all_out = std::abs(spread.middle) > kFarOut * out.sigma;
  out.scale = all_out ? std::abs(spread.middle) : out.sigma;
  return out;
}

using Row = Eigen::Matrix<double, kUnknowns, 1>;

/// Design rows of all edges; they depend on the reference alone.
std::vector<Row> DesignRows(const std::vector<ModelEdge>& edges, const Point& centre,
                            const SmoothStretch& stretch) {
  std::vector<Row> rows(edges.size());
  for (std::size_t i = 0; i < edges.size(); ++i) {
    const ModelEdge& e = edges[i];
    rows[i].head<8>() = WarpRow(e.point, e.normal, centre);
    rows[i][kGain] = 1;
    const StretchBasis basis = BasisAt(stretch, e.point.x());
    rows[i][kAlong] = e.normal.x() * basis.p2;
    rows[i][kAlong + 1] = e.normal.x() * basis.p3;
    rows[i][kAcross] = e.normal.y() * basis.p2;
    rows[i][kAcross + 1] = e.normal.y() * basis.p3;
  }
  return rows;
}

/// Adds the weighted normal equations of the first `Unknowns` unknowns.
template <int Unknowns>
void Accumulate(const std::vector<Row>& rows, const std::vector<ModelEdge>& edges,
                const Residuals& r, double information, Eigen::MatrixXd& normal,
                Eigen::VectorXd& right) {
  Eigen::Matrix<double, Unknowns, Unknowns> sum = Eigen::Matrix<double, Unknowns, Unknowns>::Zero();
  Eigen::Matrix<double, Unknowns, 1> pull = Eigen::Matrix<double, Unknowns, 1>::Zero();
  for (std::size_t i = 0; i < edges.size(); ++i) {
    if (std::isnan(r.value[i])) continue;
    const double w = edges[i].length * information * BiweightOf(r.value[i] / r.scale);
    if (w <= 0) continue;
    const Eigen::Matrix<double, Unknowns, 1> row = rows[i].template head<Unknowns>();
    sum.noalias() += (w * row) * row.transpose();
    pull += w * r.value[i] * row;
  }
  normal.topLeftCorner<Unknowns, Unknowns>() += sum;
  right.head<Unknowns>() += pull;
}

}  // namespace

WholeReport FitWhole(const cv::Mat& alpha, const outline::Lettering& lettering,
                     const Placement& start, double first_window, double last_window,
                     const WholeOptions& options) {
  constexpr double kCorrelationLength = 0.05;  // cap heights of outline that share their error
  constexpr double kLeastGain = -0.08;         // cap heights
  constexpr double kMostGain = 0.12;
  constexpr double kShrinks = 0.75;  // the window, a round
  constexpr double kSettled = 2e-4;  // cap heights
  std::vector<ModelEdge> edges;
  for (const auto& element : lettering.elements) {
    const auto some = ModelEdges(element.outline, options.step);
    edges.insert(edges.end(), some.begin(), some.end());
  }
  const outline::Box box = outline::Bounds(lettering);
  const Point centre = box.centre();
  WholeReport report;
  report.placement = start;
  report.placement.stretch.centre = centre.x();
  report.placement.stretch.half_length = std::max(0.5, box.width() / 2);
  const std::vector<Row> rows = DesignRows(edges, centre, report.placement.stretch);
  double window = first_window;
  for (int round = 0; round < 14; ++round) {
    const EdgeReader reader(alpha, report.placement);
    const Residuals r = ReadAll(reader, edges, report.placement.gain, window);
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(kUnknowns, kUnknowns);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(kUnknowns);
    const double information = 1 / (r.sigma * r.sigma * kCorrelationLength);
    if (options.fit_stretch) {
      Accumulate<kUnknowns>(rows, edges, r, information, normal, right);
    } else {
      Accumulate<kAlong>(rows, edges, r, information, normal, right);
    }
    AddWarpPrior(report.placement, centre, options, normal, right);
    const double gain_weight = 1 / (options.gain_sd * options.gain_sd);
    normal(kGain, kGain) += gain_weight;
    right[kGain] -= gain_weight * report.placement.gain;
    SmoothStretch& stretch = report.placement.stretch;
    const double stretch_sd = options.fit_stretch ? options.stretch_sd : 1e-9;
    const std::array<double, 4> amplitude = {stretch.along[0], stretch.along[1], stretch.across[0],
                                             stretch.across[1]};
    for (int k = 0; k < 4; ++k) {
      const double w = 1 / (stretch_sd * stretch_sd);
      normal(kAlong + k, kAlong + k) += w;
      right[kAlong + k] -= w * amplitude[k];
    }
    normal.diagonal().head<8>().array() += 1e-9;
    const Eigen::VectorXd step = normal.ldlt().solve(right);
    if (!step.allFinite()) break;
    // Displacements add in the stamp frame: the photo shows the edge further out by `value`.
    ApplyIncrement(step.head<8>(), centre, report.placement);
    report.placement.gain = std::clamp(report.placement.gain + step[kGain], kLeastGain, kMostGain);
    for (int k = 0; k < 2; ++k) {
      stretch.along[k] += step[kAlong + k];
      stretch.across[k] += step[kAcross + k];
    }
    report.residual = r.sigma;
    report.edges_found = r.found;
    report.iterations = round + 1;
    const double moved = step.head<8>().cwiseAbs().maxCoeff();
    if (window <= last_window && moved < kSettled) break;
    window = std::max(last_window, window * kShrinks);
  }
  return report;
}

}  // namespace debossier::fit
