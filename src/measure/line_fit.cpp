#include "measure/line_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>

#include "base/robust.h"
#include "fit/natural_spread.h"

namespace debossier::measure {

namespace {

using Rows = Eigen::Matrix<double, 4, kLineUnknowns>;

Rows RowsOf(const outline::Point& d) {
  Rows rows = Rows::Zero();
  rows(0, kLineShiftX) = 1;
  rows(0, kLineTurn) = -d.y();
  rows(0, kLineSpread) = d.x();
  rows(1, kLineShiftY) = 1;
  rows(1, kLineTurn) = d.x();
  rows(1, kLineSize) = d.y();
  rows(2, kLineSize) = 1;
  rows(3, kLineSize) = 1;
  return rows;
}

}  // namespace

LineFit FitLine(const outline::Lettering& reference, const std::vector<fit::ElementFit>& elements,
                int line_idx) {
  LineFit line;
  outline::Box box;
  std::vector<std::size_t> members;
  for (std::size_t i = 0; i < elements.size(); ++i) {
    const auto& e = reference.elements[i];
    if (e.line_idx != line_idx || e.kind != outline::ElementKind::kLetter) continue;
    if (!elements[i].found) continue;
    members.push_back(i);
    box.Add(outline::Bounds(e.outline));
  }
  line.letters = static_cast<int>(members.size());
  if (members.empty()) return line;
  line.centre = box.centre();
  for (int round = 0; round < 6; ++round) {
    LineMatrix normal = LineMatrix::Zero();
    LineVector right = LineVector::Zero();
    // Weak priors keep a one-letter line solvable.
    normal(kLineTurn, kLineTurn) += 1 / (0.02 * 0.02);
    normal(kLineSpread, kLineSpread) += 1 / (0.1 * 0.1);
    normal(kLineSize, kLineSize) += 1 / (0.3 * 0.3);
    for (const std::size_t i : members) {
      const auto& e = elements[i];
      const Rows rows = RowsOf(e.centre - line.centre);
      Eigen::Matrix4d covariance = e.covariance.topLeftCorner<4, 4>();
      covariance.diagonal() += Eigen::Vector4d(fit::kNaturalShift, fit::kNaturalShift,
                                               fit::kNaturalScale, fit::kNaturalScale)
                                   .cwiseAbs2();
      const Eigen::Matrix4d information = covariance.inverse();
      const Eigen::Vector4d seen = e.value.head<4>();
      const Eigen::Vector4d residual = seen - rows * line.value;
      const double w =
          StudentWeightOf(residual.dot(information * residual), 4, fit::kStudentDegrees);
      normal += w * rows.transpose() * information * rows;
      right += w * rows.transpose() * information * seen;
    }
    line.value = normal.ldlt().solve(right);
    line.covariance = normal.inverse();
  }
  line.found = true;
  return line;
}

}  // namespace debossier::measure
