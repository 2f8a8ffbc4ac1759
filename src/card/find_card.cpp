#include "card/find_card.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <opencv2/imgproc.hpp>

#include "card/find_marks.h"
#include "card/refine_marks.h"

namespace debossier::card {

namespace {

constexpr int kFirstSide = 1600;    // px; the first look is at a copy of about this size
constexpr std::size_t kEnough = 9;  // marks; then no larger copy is looked at
constexpr std::size_t kMostMarks = 36;
constexpr double kToleranceMm = 1.0;  // a bent card must still be recognised as one
constexpr double kBentMm = 0.045;

/// Twice the area of the flattest triangle among four points, mm squared.
double Flattest(const std::array<Point, 4>& p) {
  double least = 1e9;
  for (int skip = 0; skip < 4; ++skip) {
    std::array<Point, 3> t;
    for (int i = 0, k = 0; i < 4; ++i) {
      if (i != skip) t[static_cast<std::size_t>(k++)] = p[static_cast<std::size_t>(i)];
    }
    const Point a = t[1] - t[0], b = t[2] - t[0];
    least = std::min(least, std::abs(a.x() * b.y() - a.y() * b.x()));
  }
  return least;
}

/// The homography through four marks.
std::optional<Eigen::Matrix3d> Through(const std::array<const Mark*, 4>& marks) {
  const auto fiducials = Fiducials();
  std::array<cv::Point2f, 4> card;
  std::array<cv::Point2f, 4> photo;
  for (std::size_t i = 0; i < 4; ++i) {
    const Point& p = fiducials[static_cast<std::size_t>(marks[i]->fiducial_idx)].centre;
    card[i] = cv::Point2f(static_cast<float>(p.x()), static_cast<float>(p.y()));
    const Point& q = marks[i]->centre;
    photo[i] = cv::Point2f(static_cast<float>(q.x()), static_cast<float>(q.y()));
  }
  const cv::Mat h = cv::getPerspectiveTransform(card.data(), photo.data());
  Eigen::Matrix3d m;
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 3; ++c) m(r, c) = h.at<double>(r, c);
  }
  if (!m.allFinite()) return std::nullopt;
  return m;
}

/// True where the mark lies, is as large and is turned as `h` has it.
bool Agrees(const Eigen::Matrix3d& h, const Mark& mark) {
  const Point& centre = Fiducials()[static_cast<std::size_t>(mark.fiducial_idx)].centre;
  const double depth = h(2, 0) * centre.x() + h(2, 1) * centre.y() + 1;
  if (depth <= 1e-6) return false;
  const Eigen::Matrix2d j = JacobianOf(h, centre);
  const double determinant = j.determinant();
  if (determinant <= 0) return false;
  const double px_per_mm = std::sqrt(determinant);
  if ((Applied(h, centre) - mark.centre).norm() > kToleranceMm * px_per_mm) return false;
  const double size = mark.radius_px / (kDotMm * px_per_mm);
  if (size < 0.7 || size > 1.4) return false;
  return j.col(0).normalized().dot(mark.sector_zero) > 0.85;
}

double Misfit(const Eigen::Matrix3d& h, const Mark& mark) {
  return (Applied(h, Fiducials()[static_cast<std::size_t>(mark.fiducial_idx)].centre) - mark.centre)
      .norm();
}

struct Consensus {
  std::vector<const Mark*> marks;
  Eigen::Matrix3d photo_from_card = Eigen::Matrix3d::Identity();
  double misfit = 0;
};

/// One mark a fiducial, the nearest to where `h` has it.
Consensus Supporters(const Eigen::Matrix3d& h, const std::vector<Mark>& marks) {
  std::array<const Mark*, 16> nearest{};
  for (const Mark& mark : marks) {
    if (!Agrees(h, mark)) continue;
    const Mark*& held = nearest[static_cast<std::size_t>(mark.fiducial_idx)];
    if (held == nullptr || Misfit(h, mark) < Misfit(h, *held)) held = &mark;
  }
  Consensus c;
  c.photo_from_card = h;
  for (const Mark* mark : nearest) {
    if (mark == nullptr) continue;
    c.marks.push_back(mark);
    c.misfit += Misfit(h, *mark);
  }
  return c;
}

/// All fours of marks are tried: there are few, and none may be missed.
Consensus BestConsensus(const std::vector<Mark>& marks) {
  const auto fiducials = Fiducials();
  Consensus best;
  const std::size_t n = std::min(marks.size(), kMostMarks);
  for (std::size_t a = 0; a < n; ++a) {
    for (std::size_t b = a + 1; b < n; ++b) {
      for (std::size_t c = b + 1; c < n; ++c) {
        for (std::size_t d = c + 1; d < n; ++d) {
          const std::array<const Mark*, 4> four = {&marks[a], &marks[b], &marks[c], &marks[d]};
          std::array<Point, 4> places;
          for (std::size_t i = 0; i < 4; ++i) {
            places[i] = fiducials[static_cast<std::size_t>(four[i]->fiducial_idx)].centre;
          }
          if (Flattest(places) < 60) continue;
          const auto h = Through(four);
          if (!h) continue;
          Consensus found = Supporters(*h, marks);
          if (found.marks.size() > best.marks.size() ||
              (found.marks.size() == best.marks.size() && found.misfit < best.misfit)) {
            best = std::move(found);
          }
        }
      }
    }
  }
  return best;
}

std::optional<CardSeen> Measure(const cv::Mat& grey, const Consensus& consensus) {
  std::vector<int> ids;
  std::vector<PlanePoint> points;
  for (const Mark* mark : consensus.marks) {
    ids.push_back(mark->fiducial_idx);
    points.push_back(
        {Fiducials()[static_cast<std::size_t>(mark->fiducial_idx)].centre, mark->centre, 0.3});
  }
  std::optional<PlaneFit> plane = FitPlane(points);
  constexpr int kRounds = 3;
  for (int round = 0; round < kRounds && plane; ++round) {
    points.clear();
    std::vector<int> kept;
    for (const int id : ids) {
      const auto refined = RefineMark(grey, plane->photo_from_plane,
                                      Fiducials()[static_cast<std::size_t>(id)].centre);
      if (!refined) continue;
      kept.push_back(id);
      points.push_back(*refined);
    }
    ids = kept;
    plane = FitPlane(points);
  }
  if (!plane) return std::nullopt;
  CardSeen seen;
  for (std::size_t i = 0; i < points.size(); ++i) {
    const Point& residual = plane->residuals_mm[i];
    seen.fiducials.push_back({ids[i], points[i].photo, points[i].u_px, residual});
    seen.largest_residual_mm = std::max(seen.largest_residual_mm, residual.norm());
  }
  seen.plane = *std::move(plane);
  // Without a mark to spare nothing can disagree: nobody would see a wrong place.
  if (seen.plane.degrees_of_freedom == 0) seen.plane.covariance *= 9;
  return seen;
}

void Warn(CardSeen& seen) {
  const auto add = [&](std::string message) {
    seen.warnings.push_back({"card", "scale card", std::move(message)});
  };
  const std::size_t total = Fiducials().size();
  // The window's own mark is cut away with the window.
  if (seen.fiducials.size() + 1 < total) {
    add(fmt::format("only {} of the card's {} marks are seen; the uncertainty is wider for it",
                    seen.fiducials.size(), total));
  }
  if (seen.plane.degrees_of_freedom == 0) {
    add("with four marks nothing shows whether the card lies flat");
  }
  const double dof = std::max(seen.plane.degrees_of_freedom, 1);
  const double per_mark = seen.plane.residual_rms_mm *
                          std::sqrt(2.0 * static_cast<double>(seen.fiducials.size()) / dof);
  seen.is_bent = seen.plane.degrees_of_freedom > 0 && per_mark > kBentMm && seen.plane.birge > 2;
  if (seen.is_bent) {
    add(
        fmt::format("the card's marks lie up to {:.2f} mm off one plane: the card is bent or "
                    "wrinkled, or the lens bends lines; lay it flat and photograph again",
                    seen.largest_residual_mm));
  }
}

}  // namespace

CardSearch FindCard(const cv::Mat& bgr) {
  cv::Mat grey;
  cv::cvtColor(bgr, grey, cv::COLOR_BGR2GRAY);
  CardSearch search;
  Consensus best;
  std::vector<std::vector<Mark>> looks;  // the consensus points into them
  looks.reserve(32);
  const int longest = std::max(grey.cols, grey.rows);
  for (int reduction = std::max(1, longest / kFirstSide); reduction >= 1; reduction /= 2) {
    std::vector<Mark> marks = FindMarks(grey, reduction);
    std::stable_sort(marks.begin(), marks.end(),
                     [](const Mark& a, const Mark& b) { return a.contrast > b.contrast; });
    looks.push_back(std::move(marks));
    search.marks_read = std::max(search.marks_read, static_cast<int>(looks.back().size()));
    Consensus found = BestConsensus(looks.back());
    if (found.marks.size() > best.marks.size()) best = std::move(found);
    if (best.marks.size() >= kEnough) break;
  }
  if (best.marks.size() >= 4) search.card = Measure(grey, best);
  if (search.card) {
    Warn(*search.card);
  } else if (search.marks_read == 0) {
    search.why_not = "no mark of the scale card is seen in the photo";
  } else {
    search.why_not = fmt::format(
        "only {} of the scale card's {} marks can be read, and four are needed, no three of them "
        "on one line",
        search.marks_read, Fiducials().size());
  }
  return search;
}

}  // namespace debossier::card
