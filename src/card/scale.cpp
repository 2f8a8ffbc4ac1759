#include "card/scale.h"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

namespace debossier::card {

namespace {

// Standard uncertainties of what a photo does not show. Common practice or estimates, no source,
// where none is named.
constexpr double kPaperLiftMm = 0.3;   ///< Paper on grain: half of it may stand off by as much.
constexpr double kIdCardLiftMm = 0.5;  ///< 0.76 mm thick (ISO/IEC 7810), its face is what is seen.
constexpr double kHandLiftMm = 0.5;    ///< Two points on something that lies on the leather.
constexpr double kUncheckedPrint = 0.005;  ///< A printer set to 100 %, nothing measured.
constexpr double kCheckReadingMm = 0.2;    ///< Reading a ruler at both ends.
constexpr double kPrintAspect = 0.001;     ///< Along against across the paper's way.
constexpr double kIdCardSize = 0.0007;     ///< Half of the tolerance of ISO/IEC 7810.
constexpr double kLensAtCorner = 0.004;    ///< Distortion that the phone leaves, at the corner.
constexpr double kEdgePx = 0.1;            ///< Bias of the foil's edges at the cap height.
constexpr double kMeasuredTilt = 0.005;    ///< Two points, tilt known from the stamp's own shape.
constexpr double kUnknownTilt = 0.02;      ///< The same, shape unknown: 15 degrees cost 3.4 %.
constexpr double kUsualFocal35 = 26;       ///< mm; main camera of a usual phone.
constexpr double kFullFrameDiagonal = 43.2666;  ///< mm (36 by 24).
constexpr double kMostShape = 0.04;  ///< Beyond what leather stretches a stamp, as the fit's prior.
constexpr double kFarMm = 70;

double FocalPx(const CameraFacts& camera) {
  return camera.focal_length_35mm.value_or(kUsualFocal35) / kFullFrameDiagonal *
         std::hypot(camera.size.width, camera.size.height);
}

/// Squared distance from the picture's middle, in half diagonals.
double Radius2(const Point& p, const CameraFacts& camera) {
  const Point middle(0.5 * (camera.size.width - 1), 0.5 * (camera.size.height - 1));
  const double half = 0.5 * std::hypot(camera.size.width, camera.size.height);
  return (p - middle).squaredNorm() / (half * half);
}

void Finish(Scale& scale) {
  double sum = 0;
  for (const ScaleTerm& term : scale.terms) sum += term.u * term.u;
  scale.mm_per_cap_height.u = scale.mm_per_cap_height.value * std::sqrt(sum);
}

void Warn(Scale& scale, std::string message) {
  scale.warnings.push_back({"card", "scale", std::move(message)});
}

/// Millimetres on the plane of a photo vector at the stamp, and what follows from it.
struct LocalScale {
  double along = 0;
  double across = 0;
  double mean = 0;
  double stretched = 1;  ///< Ratio of the axes of the map from stamp to plane, 1 at least.
};

LocalScale LocalScaleOf(const Eigen::Matrix3d& photo_from_plane, const StampPlace& stamp) {
  const Eigen::Matrix3d plane_from_stamp =
      photo_from_plane.inverse() * stamp.placement.photo_from_stamp;
  const Eigen::Matrix2d j = JacobianOf(plane_from_stamp, stamp.lettering.centre());
  LocalScale s;
  const double area = std::abs(j.determinant());
  s.along = j.col(0).norm();
  s.across = s.along > 0 ? area / s.along : 0;
  s.mean = std::sqrt(area);
  const Eigen::JacobiSVD<Eigen::Matrix2d> svd(j);
  s.stretched = svd.singularValues()(0) / std::max(svd.singularValues()(1), 1e-12);
  return s;
}

double ValueOf(const LocalScale& s, StampShape shape) {
  return shape == StampShape::kKnown ? s.mean : s.across;
}

void AddHeightLimit(const CameraFacts& camera, Scale& scale) {
  const double distance = FocalPx(camera) / scale.px_per_mm;
  scale.limits.push_back(fmt::format(
      "One photo does not show whether the scale lies as high as the stamp: each millimetre that "
      "it "
      "lies higher makes all lengths about {:.1f} % too short (camera about {:.0f} mm away{}).",
      100 / distance, distance,
      camera.focal_length_35mm ? "" : ", if it is a usual phone and the photo is not cropped"));
}

void AddCardTerms(const CardSeen& card, const StampPlace& stamp, Scale& scale) {
  const double u_marks = card.plane.UncertaintyOf([&](const Eigen::Matrix3d& h) {
    return std::log(std::max(ValueOf(LocalScaleOf(h, stamp), stamp.shape), 1e-12));
  });
  // A bent card stands off the leather; seen at `kArm` from below the camera, a height shifts a
  // mark by height * arm / distance and changes lengths by height / distance.
  constexpr double kArm = 20;  // mm
  const double bent = card.is_bent ? card.plane.residual_rms_mm / kArm : 0;
  scale.terms.push_back({"marks", std::hypot(u_marks, bent)});
}

void AddPrint(const ScaleOptions& options, Scale& scale) {
  if (options.card_check_mm) {
    const double ratio = *options.card_check_mm / kCheckLengthMm;
    scale.mm_per_cap_height.value *= ratio;
    scale.along_mm *= ratio;
    scale.across_mm *= ratio;
    scale.px_per_mm /= ratio;
    scale.terms.push_back(
        {"print", std::hypot(kCheckReadingMm / *options.card_check_mm, kPrintAspect)});
    return;
  }
  scale.terms.push_back({"print", kUncheckedPrint});
  scale.limits.push_back(fmt::format(
      "The card's print was not checked: a printer that fits pages to the paper makes all lengths "
      "3 to 6 % too long. Measure the check line of {:.0f} mm and give what it measures.",
      kCheckLengthMm));
}

double DistanceToCard(const Point& p) {
  const Point outside(std::max({-p.x(), p.x() - kWidthMm, 0.0}),
                      std::max({-p.y(), p.y() - kHeightMm, 0.0}));
  return outside.norm();
}

Scale FromCard(const cv::Mat& bgr, const CameraFacts& camera, const StampPlace& stamp,
               const ScaleOptions& options) {
  CardSearch search = FindCard(bgr);
  if (!search.card) {
    Scale none;
    Warn(none, search.why_not + "; there are no millimetres");
    return none;
  }
  const CardSeen& card = *search.card;
  Point middle = Point::Zero();
  for (const auto& f : card.fiducials) {
    middle += f.photo / static_cast<double>(card.fiducials.size());
  }
  Scale scale = ScaleAtStamp(card.plane.photo_from_plane, stamp, camera, middle, kPaperLiftMm,
                             ScaleMethod::kCard);
  if (!scale.is_known()) return scale;
  scale.marks_seen = static_cast<int>(card.fiducials.size());
  scale.marks_total = static_cast<int>(Fiducials().size());
  scale.card_version = kVersion;
  scale.residual_mm = card.plane.residual_rms_mm;
  scale.warnings.insert(scale.warnings.begin(), card.warnings.begin(), card.warnings.end());
  AddCardTerms(card, stamp, scale);
  AddPrint(options, scale);
  const Point at =
      card.plane.ToPlane(Applied(stamp.placement.photo_from_stamp, stamp.lettering.centre()));
  if (const double away = DistanceToCard(at); away > kFarMm) {
    Warn(scale, fmt::format("the stamp lies {:.0f} mm from the card; lay it closer", away));
  }
  Finish(scale);
  return scale;
}

Scale FromCorners(const CameraFacts& camera, const StampPlace& stamp, const ScaleOptions& options) {
  const double w = options.rectangle_width_mm, h = options.rectangle_height_mm;
  const Point places[] = {{0, 0}, {w, 0}, {w, h}, {0, h}};
  std::vector<PlanePoint> points;
  Point middle = Point::Zero();
  for (std::size_t i = 0; i < 4; ++i) {
    const Point photo(options.corners[2 * i], options.corners[2 * i + 1]);
    points.push_back({places[i], photo, options.pick_px});
    middle += photo / 4;
  }
  const auto plane = FitPlane(points);
  Scale none;
  if (!plane) {
    Warn(none, "the four corners give no plane; there are no millimetres");
    return none;
  }
  Scale scale = ScaleAtStamp(plane->photo_from_plane, stamp, camera, middle, kIdCardLiftMm,
                             ScaleMethod::kRectangle);
  if (!scale.is_known()) return scale;
  const double u = plane->UncertaintyOf([&](const Eigen::Matrix3d& m) {
    return std::log(std::max(ValueOf(LocalScaleOf(m, stamp), stamp.shape), 1e-12));
  });
  scale.terms.push_back({"picking", u});
  scale.terms.push_back({"size", kIdCardSize});
  Finish(scale);
  return scale;
}

Scale FromPoints(const CameraFacts& camera, const StampPlace& stamp, const ScaleOptions& options) {
  const Point a(options.points[0], options.points[1]), b(options.points[2], options.points[3]);
  const Eigen::Matrix3d& h = stamp.placement.photo_from_stamp;
  const Eigen::Matrix3d stamp_from_photo = h.inverse();
  const Point centre = stamp.lettering.centre();
  const Point centre_px = Applied(h, centre);
  // With the stamp's perspective carried on to the points, and without.
  const auto depth = [&](const Point& p) {
    return (stamp_from_photo * Eigen::Vector3d(p.x(), p.y(), 1)).z() /
           (stamp_from_photo * Eigen::Vector3d(centre_px.x(), centre_px.y(), 1)).z();
  };
  const double flat = (JacobianOf(h, centre).inverse() * (b - a)).norm();
  const bool in_front = depth(a) > 0.2 && depth(b) > 0.2;
  const double carried =
      in_front ? (Applied(stamp_from_photo, b) - Applied(stamp_from_photo, a)).norm() : 0;
  Scale scale;
  if (!in_front || !(carried > 0) || !(flat > 0)) {
    Warn(scale,
         "the two points lie beyond the horizon of the stamp's plane; there are no "
         "millimetres");
    return scale;
  }
  scale.method = ScaleMethod::kTwoPoints;
  const double value = options.points_mm / carried;
  scale.mm_per_cap_height.value = scale.along_mm = scale.across_mm = value;
  scale.px_per_mm = std::sqrt(std::abs(JacobianOf(h, centre).determinant())) / value;
  const double distance = FocalPx(camera) / scale.px_per_mm;
  const double lens =
      2 * kLensAtCorner * std::abs(Radius2(0.5 * (a + b), camera) - Radius2(centre_px, camera));
  const bool known = stamp.shape == StampShape::kKnown;
  const double px_per_cap = scale.px_per_mm * value;
  scale.terms = {{"picking", std::sqrt(2.0) * options.pick_px / (b - a).norm()},
                 {"plane", kHandLiftMm / distance},
                 {"lens", lens},
                 {"shape", std::hypot(known ? kMeasuredTilt : kUnknownTilt,
                                      std::log(carried / flat) / std::sqrt(3.0))},
                 {"edges", kEdgePx / std::max(px_per_cap, 1e-9)}};
  scale.limits.push_back(
      known ? "Two points do not show the tilt; the stamp's own shape is taken for it."
            : "Two points do not show the tilt, and without a set the stamp's shape is not known: "
              "hold the camera square to the leather.");
  AddHeightLimit(camera, scale);
  Finish(scale);
  return scale;
}

}  // namespace

Scale ScaleAtStamp(const Eigen::Matrix3d& photo_from_plane, const StampPlace& stamp,
                   const CameraFacts& camera, const Point& reference_px, double lift_mm,
                   ScaleMethod method) {
  Scale scale;
  const Eigen::Matrix3d& h = stamp.placement.photo_from_stamp;
  const Point centre_px = Applied(h, stamp.lettering.centre());
  const LocalScale local = LocalScaleOf(photo_from_plane, stamp);
  // Beyond the plane's horizon nothing can be told.
  const Eigen::Matrix3d plane_from_photo = photo_from_plane.inverse();
  const auto depth = [&](const Point& p) {
    return (plane_from_photo * Eigen::Vector3d(p.x(), p.y(), 1)).z();
  };
  const double value = ValueOf(local, stamp.shape);
  if (!(depth(centre_px) / depth(reference_px) > 0.2) || !std::isfinite(value) || value <= 0) {
    Warn(scale, "the stamp lies beyond the horizon of the card's plane; there are no millimetres");
    return scale;
  }
  scale.method = method;
  scale.mm_per_cap_height.value = value;
  scale.along_mm = local.along;
  scale.across_mm = local.across;
  const double px_per_cap =
      std::sqrt(std::abs(JacobianOf(h, stamp.lettering.centre()).determinant()));
  scale.px_per_mm = px_per_cap / local.mean;
  const double distance = FocalPx(camera) / scale.px_per_mm;
  scale.terms.push_back({"plane", lift_mm / distance});
  scale.terms.push_back(
      {"lens",
       2 * kLensAtCorner * std::abs(Radius2(centre_px, camera) - Radius2(reference_px, camera))});
  if (stamp.shape == StampShape::kKnown) {
    // Of two planes that disagree nobody knows which is right: half of it, evenly spread, as long
    // as leather may have done it; all of it where the card's plane must be another, since that
    // plane is carried on to the stamp.
    const double share = local.stretched > 1 + kMostShape ? 1.0 : 0.5;
    scale.terms.push_back({"shape", share * std::log(local.stretched) / std::sqrt(3.0)});
    if (local.stretched > 1 + kMostShape) {
      Warn(scale,
           fmt::format("seen from the card's plane the lettering is {:.1f} % stretched: card and "
                       "stamp do not lie in one plane; lay the card flat beside the stamp",
                       100 * (local.stretched - 1)));
    }
  } else {
    scale.limits.push_back(
        "Without a set the stamp's own shape is not known, so nothing shows whether it lies in the "
        "scale's plane.");
  }
  scale.terms.push_back({"edges", kEdgePx / std::max(px_per_cap, 1e-9)});
  AddHeightLimit(camera, scale);
  Finish(scale);
  return scale;
}

Scale FindScale(const cv::Mat& bgr, const std::optional<double>& focal_length_35mm,
                const StampPlace& stamp, const ScaleOptions& options) {
  const CameraFacts camera{bgr.size(), focal_length_35mm};
  if (options.card) return FromCard(bgr, camera, stamp, options);
  if (!options.corners.empty()) return FromCorners(camera, stamp, options);
  if (!options.points.empty()) return FromPoints(camera, stamp, options);
  return {};
}

}  // namespace debossier::card
