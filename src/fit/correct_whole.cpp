#include "fit/correct_whole.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>

#include "base/robust.h"
#include "fit/natural_spread.h"

namespace debossier::fit {

namespace {

/// Middles of the boxes of the lines' letters.
std::vector<Point> LineCentres(const outline::Lettering& lettering) {
  std::vector<outline::Box> boxes(lettering.lines.size());
  for (const auto& e : lettering.elements) {
    if (e.kind == outline::ElementKind::kLetter) boxes[e.line_idx].Add(outline::Bounds(e.outline));
  }
  std::vector<Point> centres;
  centres.reserve(boxes.size());
  for (const auto& box : boxes) centres.push_back(box.empty() ? Point(0, 0) : box.centre());
  return centres;
}

/// What an element's (shift x, shift y, log scale x, log scale y, slant) say of the increment of
/// the whole and, for lines after the first, of their own size and place.
Eigen::MatrixXd CorrectionRows(const ElementFit& e, int line, const Point& centre,
                               const std::vector<Point>& line_centres, Eigen::Index unknowns) {
  Eigen::MatrixXd rows = Eigen::MatrixXd::Zero(5, unknowns);
  const Point d = e.centre - centre;
  rows.row(0).head<8>() = WarpRow(e.centre, {1, 0}, centre).transpose();
  rows.row(1).head<8>() = WarpRow(e.centre, {0, 1}, centre).transpose();
  rows.row(2).head<8>() << 0, 1, 0, 0, 0, 0, 2 * d.x(), d.y();
  rows.row(3).head<8>() << 0, 0, 0, 0, 0, 1, d.x(), 2 * d.y();
  rows.row(4).head<8>() << 0, 0, 1, 0, 0, 0, 0, d.x();
  if (line > 0) {
    const Eigen::Index k = 8 + 3 * (line - 1);
    const Point own = e.centre - line_centres[static_cast<std::size_t>(line)];
    rows(0, k) = own.x();
    rows(1, k) = own.y();
    rows(2, k) = rows(3, k) = 1;
    rows(0, k + 1) = rows(1, k + 2) = 1;
  }
  return rows;
}

/// The sizes and places of lines after the first, all but fixed where they may not move.
void AddLinePrior(bool lines_move, Eigen::MatrixXd& normal) {
  constexpr double kSizeSpread = 0.1;
  constexpr double kPlaceSpread = 0.3;  // cap heights
  constexpr double kFixed = 1e-6;
  const double size = lines_move ? kSizeSpread : kFixed;
  const double place = lines_move ? kPlaceSpread : kFixed;
  for (Eigen::Index k = 8; k < normal.rows(); k += 3) {
    normal(k, k) += 1 / (size * size);
    normal(k + 1, k + 1) += 1 / (place * place);
    normal(k + 2, k + 2) += 1 / (place * place);
  }
}

/// A fit's covariance with what letters of real goods spread by.
Eigen::Matrix<double, 5, 5> WithNaturalSpread(const ElementMatrix& covariance) {
  Eigen::Matrix<double, 5, 5> spread = covariance.topLeftCorner<5, 5>();
  Eigen::Matrix<double, 5, 1> natural;
  natural << kNaturalShift, kNaturalShift, kNaturalScale, kNaturalScale, kNaturalSlant;
  spread.diagonal() += natural.cwiseAbs2();
  return spread;
}

}  // namespace

void CorrectFromElements(const std::vector<ElementFit>& elements,
                         const outline::Lettering& lettering, const WholeOptions& options,
                         Placement& placement) {
  const Point centre = outline::Bounds(lettering).centre();
  const std::vector<Point> line_centres = LineCentres(lettering);
  const Eigen::Index unknowns = 8 + 3 * (static_cast<Eigen::Index>(line_centres.size()) - 1);
  Eigen::VectorXd all = Eigen::VectorXd::Zero(unknowns);
  Placement corrected = placement;
  WarpIncrement total = WarpIncrement::Zero();
  double gain_sum = 0;
  for (int round = 0; round < 2; ++round) {
    Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(unknowns, unknowns);
    Eigen::VectorXd right = Eigen::VectorXd::Zero(unknowns);
    AddLinePrior(options.lines_move, normal);
    gain_sum = 0;
    double gain_weight = 1e-9;
    for (std::size_t i = 0; i < elements.size(); ++i) {
      const ElementFit& e = elements[i];
      if (!e.found) continue;
      const Eigen::MatrixXd rows =
          CorrectionRows(e, lettering.elements[i].line_idx, centre, line_centres, unknowns);
      const Eigen::Matrix<double, 5, 1> seen = e.value.head<5>();
      const Eigen::Matrix<double, 5, 5> covariance = WithNaturalSpread(e.covariance);
      const Eigen::Matrix<double, 5, 5> information = covariance.inverse();
      const Eigen::Matrix<double, 5, 1> residual = seen - rows * all;
      const double distance = residual.dot(information * residual);
      const double w = StudentWeightOf(distance, 5, kStudentDegrees);
      normal += w * rows.transpose() * information * rows;
      right += w * rows.transpose() * information * seen;
      const double g = w / (e.covariance(kOwnGain, kOwnGain) + 1e-6);
      gain_sum += g * e.value[kOwnGain];
      gain_weight += g;
    }
    gain_sum /= gain_weight;
    // The priors act on the absolute shape, so they see the placement before the increment.
    AddWarpPrior(placement, centre, options, normal, right);
    normal.diagonal().array() += 1e-9;
    const Eigen::VectorXd step = normal.ldlt().solve(right);
    if (!step.allFinite()) return;
    all = step;
    total = step.head<8>();
  }
  ApplyIncrement(total, centre, corrected);
  corrected.gain += gain_sum;
  placement = corrected;
}

}  // namespace debossier::fit
