#include "trace/seed.h"

#include <fmt/format.h>

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "base/quantile.h"
#include "outline/letter_class.h"
#include "separate/contrast.h"
#include "separate/coverage.h"
#include "trace/bezier_fit.h"
#include "trace/check_letters.h"
#include "trace/contour.h"
#include "trace/sharpen.h"

namespace debossier::trace {

outline::Affine Normalise(outline::Lettering& lettering) {
  const auto heights_of = [&](int line_idx) {
    std::vector<std::string> characters;
    std::vector<outline::Box> boxes;
    for (const auto& e : lettering.elements) {
      if (e.line_idx != line_idx || e.kind != outline::ElementKind::kLetter) continue;
      characters.push_back(e.character);
      boxes.push_back(outline::Bounds(e.outline));
    }
    return outline::HeightsOf(characters, boxes);
  };
  const outline::LineHeights word = heights_of(0);
  double left = 1e300;
  for (const auto& e : lettering.elements) {
    if (e.line_idx == 0 && e.kind == outline::ElementKind::kLetter) {
      left = std::min(left, outline::Bounds(e.outline).min.x());
    }
  }
  const double scale = 1 / std::max(1e-9, word.Nominal());
  outline::Affine map;
  map.linear = Eigen::Matrix2d::Identity() * scale;
  map.offset = -scale * outline::Point(left, word.baseline);
  for (auto& e : lettering.elements) e.outline = outline::Transformed(e.outline, map);
  lettering.frame.centre = map * lettering.frame.centre;
  lettering.frame.radius *= scale;
  lettering.frame.line_weight *= scale;
  for (std::size_t l = 0; l < lettering.lines.size(); ++l) {
    const outline::LineHeights h = heights_of(static_cast<int>(l));
    lettering.lines[l].baseline = h.baseline;
    lettering.lines[l].cap_height = h.cap_height;
    lettering.lines[l].x_height = h.x_height;
  }
  return map;
}

outline::Outline TraceElement(const cv::Mat& field, const outline::Affine& to, double min_area,
                              double tolerance, const SharpenOptions* sharpen) {
  outline::Outline raw;
  BezierFitOptions fit;
  fit.tolerance = tolerance;
  std::vector<outline::Polyline> contours = TraceContours(field, 0.5f);
  if (sharpen != nullptr) contours = Sharpen(field, std::move(contours), *sharpen);
  for (auto& line : contours) {
    for (auto& p : line) p = to * p;
    double area = 0;
    for (std::size_t i = 0; i < line.size(); ++i) {
      const auto& a = line[i];
      const auto& b = line[(i + 1) % line.size()];
      area += 0.5 * (a.x() * b.y() - a.y() * b.x());
    }
    if (std::abs(area) < min_area) continue;
    raw.contours.push_back(FitContour(line, fit));
  }
  return outline::WithStandardDirection(raw);
}

namespace {

/// A frame from its drawn box: the rule's middle lies half a line weight inside.
outline::Frame FrameFromBox(const reading::TextSpec& text, const cv::Rect& box, double area,
                            const outline::Affine& stamp_from_upright) {
  outline::Frame frame;
  frame.kind = text.frame;
  frame.line_idx = text.frame_line_idx;
  const double scale = std::abs(stamp_from_upright.linear(0, 0));
  const double a = box.width / 2.0;
  const double b = box.height / 2.0;
  const double round = text.frame == outline::FrameKind::kEllipse
                           ? CV_PI * (3 * (a + b) - std::sqrt((3 * a + b) * (a + 3 * b)))
                           : 4 * (a + b);
  const double weight = area / std::max(1.0, round);
  frame.centre = stamp_from_upright * outline::Point(box.x + a - 0.5, box.y + b - 0.5);
  frame.radius = outline::Point((a - weight / 2) * scale, (b - weight / 2) * scale);
  frame.line_weight = weight * scale;
  return frame;
}

std::vector<outline::Line> LinesOf(const reading::TextSpec& text) {
  std::vector<outline::Line> lines;
  for (const auto& l : text.lines) lines.push_back({l.id, l.text, 0, 0, 0});
  return lines;
}

/// One element of the reading, traced in the coverage of the upright frame; its outline is empty
/// where nothing could be traced. Nothing where it lies outside.
std::optional<outline::Element> TraceRead(const reading::Reading& reading, std::size_t i,
                                          const cv::Mat& coverage, double cap_px,
                                          const outline::Affine& stamp_from_upright) {
  const auto& e = reading.elements[i];
  const int margin = std::max(2, cvRound(0.08 * cap_px));
  const cv::Rect around =
      (cv::Rect(cvRound(e.box.x) - margin, cvRound(e.box.y) - margin,
                cvRound(e.box.width) + 2 * margin, cvRound(e.box.height) + 2 * margin) &
       cv::Rect(0, 0, coverage.cols, coverage.rows));
  if (around.area() == 0) return std::nullopt;
  // The element's own pixels and a rim; what belongs to others is ground here.
  const cv::Mat labels = reading.element_of(around);
  cv::Mat own = labels == static_cast<int>(i + 1);
  cv::dilate(own, own, cv::Mat(), cv::Point(-1, -1), margin / 2 + 1);
  own.setTo(0, (labels != static_cast<int>(i + 1)) & (labels != 0));
  cv::Mat field = cv::Mat::zeros(around.size(), CV_32F);
  coverage(around).copyTo(field, own);
  outline::Affine to = stamp_from_upright;
  to.offset = stamp_from_upright * outline::Point(around.x, around.y);
  outline::Element element;
  element.id = e.id;
  element.line_idx = e.line_idx;
  element.kind = e.is_mark ? outline::ElementKind::kMark : outline::ElementKind::kLetter;
  element.character = e.character;
  element.outline = TraceElement(field, to, 0.0012, 0.006);
  return element;
}

Eigen::Matrix3d Matrix(const outline::Affine& affine) {
  Eigen::Matrix3d matrix = Eigen::Matrix3d::Identity();
  matrix.topLeftCorner<2, 2>() = affine.linear;
  matrix.topRightCorner<2, 1>() = affine.offset;
  return matrix;
}

Eigen::Matrix3d UprightFromMap(const reading::Reading& reading) {
  Eigen::Matrix3d matrix = Eigen::Matrix3d::Identity();
  for (int r = 0; r < 2; ++r) {
    for (int c = 0; c < 3; ++c) matrix(r, c) = reading.upright_from_map(r, c);
  }
  return matrix;
}

Eigen::Matrix3d UprightFromStamp(const reading::Reading& reading, double cap_px) {
  Eigen::Matrix3d matrix = Eigen::Matrix3d::Identity();
  matrix << cap_px, 0, 0, 0, -cap_px, reading.baseline_px[0], 0, 0, 1;
  return matrix;
}

/// The outlines and the placement that a reading of the photo gives.
Result<Seed> SeedFromReading(const cv::Mat& bgr, const reading::TextSpec& text,
                             const reading::Reading& reading, double map_scale) {
  // Coverage in the upright frame, learned from the reading itself.
  separate::PixelGrid grid;
  const double cap_px = std::max(4.0, reading.height_px[0]);
  const cv::Mat reduced = separate::CutOut(bgr, cv::Rect(0, 0, bgr.cols, bgr.rows), map_scale,
                                           separate::SmoothingFor(cap_px * map_scale), &grid);
  cv::Mat upright;
  cv::warpAffine(reduced, upright, reading.upright_from_map, reading.element_of.size(),
                 cv::INTER_LINEAR, cv::BORDER_REPLICATE);
  const cv::Mat lettering_mask = reading.element_of != 0;
  cv::Mat inside;
  cv::Mat outside;
  cv::distanceTransform(lettering_mask, inside, cv::DIST_L2, 3);
  cv::distanceTransform(lettering_mask == 0, outside, cv::DIST_L2, 3);
  cv::Mat foil = inside > 1.2f;
  if (cv::countNonZero(foil) < cv::countNonZero(lettering_mask) / 4) foil = lettering_mask;
  const cv::Mat ground = (outside > std::max(2.5, 0.07 * cap_px)) & (outside < cap_px);
  const auto coverage = separate::GuidedCoverage(upright, grid, foil, ground, cap_px);

  outline::Affine stamp_from_upright;
  stamp_from_upright.linear << 1 / cap_px, 0, 0, -1 / cap_px;
  stamp_from_upright.offset = outline::Point(0, reading.baseline_px[0] / cap_px);
  Seed seed;
  seed.cost = reading.cost;
  seed.lettering.lines = LinesOf(text);
  for (std::size_t i = 0; i < reading.elements.size(); ++i) {
    auto element = TraceRead(reading, i, coverage.alpha, cap_px, stamp_from_upright);
    if (!element) continue;
    (element->outline.empty() ? seed.untraced : seed.lettering.elements)
        .push_back(*std::move(element));
  }
  const std::size_t untraced = seed.untraced.size();
  if (5 * untraced > untraced + seed.lettering.elements.size()) {
    return Refuse(ErrorCode::kNoStamp, "trace", "",
                  fmt::format("{} of {} letters cannot be separated from the leather", untraced,
                              untraced + seed.lettering.elements.size()),
                  "photograph the stamp in softer light from another side, or leave this photo "
                  "out");
  }
  // Another photo may show all of them.
  seed.cost += 3 * static_cast<double>(untraced);
  if (text.frame != outline::FrameKind::kNone && reading.frame_box.area() > 0) {
    const double area = cv::countNonZero(reading.element_of == -1);
    seed.lettering.frame = FrameFromBox(text, reading.frame_box, area, stamp_from_upright);
  }
  const outline::Affine normal = Normalise(seed.lettering);
  seed.photo_from_stamp.photo_from_stamp = grid.PhotoFromMap() * UprightFromMap(reading).inverse() *
                                           UprightFromStamp(reading, cap_px) *
                                           Matrix(normal).inverse();
  return seed;
}

int CountDoubtful(const outline::Lettering& lettering) {
  const auto checks = CheckLetters(lettering);
  return static_cast<int>(std::count_if(checks.begin(), checks.end(), IsDoubtful));
}

}  // namespace

Result<Seed> SeedFromPhoto(const cv::Mat& bgr, const reading::TextSpec& text) {
  // The unsigned contrast takes the shadow beside the foil for foil, and reads well all the same.
  constexpr double kOtherPolarity = 0.5;
  constexpr double kOfDoubtful = 0.5;
  constexpr double kSurely = 4;
  const auto relative = separate::SubtractGround(bgr);
  Result<Seed> best = Refuse(ErrorCode::kNoStamp, "trace", "", "", "");
  bool is_first = true;
  for (const auto polarity : {separate::Polarity::kSigned, separate::Polarity::kUnsigned,
                              separate::Polarity::kReversed}) {
    const auto map = separate::Contrast(relative, polarity);
    const auto reading = reading::ReadText(map, text);
    Result<Seed> seed =
        reading ? SeedFromReading(bgr, text, *reading, map.scale) : Result<Seed>(PassOn(reading));
    if (!seed) {
      if (is_first) best = PassOn(seed);
      is_first = false;
      continue;
    }
    const int doubtful = CountDoubtful(seed->lettering);
    seed->cost +=
        kOfDoubtful * doubtful + (polarity == separate::Polarity::kSigned ? 0 : kOtherPolarity);
    const bool better = !best || seed->cost < best->cost;
    if (better) best = std::move(seed);
    is_first = false;
    if (best->cost < kSurely && doubtful == 0) break;
  }
  return best;
}

namespace {

/// Whether a letter was cut in another place: it is much wider or narrower than `usual`.
bool IsCutOtherwise(double width, double usual) {
  constexpr double kShare = 0.2;
  constexpr double kLeast = 0.03;  // cap heights
  return std::abs(width - usual) > kShare * usual + kLeast;
}

/// How many of a photo's letters are read much wider or narrower than on most photos: there it was
/// cut in the wrong places. Three photos are the fewest with a majority.
std::vector<int> Outvoted(const std::vector<std::optional<Seed>>& seeds) {
  constexpr std::size_t kFewest = 3;
  std::map<std::string, std::vector<std::pair<std::size_t, double>>> widths;
  for (std::size_t i = 0; i < seeds.size(); ++i) {
    if (!seeds[i]) continue;
    for (const auto& e : seeds[i]->lettering.elements) {
      widths[e.id].emplace_back(i, outline::Bounds(e.outline).width());
    }
  }
  std::vector<int> outvoted(seeds.size(), 0);
  for (const auto& [id, each] : widths) {
    if (each.size() < kFewest) continue;
    std::vector<double> all;
    for (const auto& [i, width] : each) all.push_back(width);
    const double usual = UpperMedian(std::move(all));
    for (const auto& [i, width] : each) {
      outvoted[i] += IsCutOtherwise(width, usual);
    }
  }
  return outvoted;
}

}  // namespace

std::optional<Seed> ReadAgain(const cv::Mat& mean, const reading::TextSpec& text,
                              const Seed& seed) {
  constexpr double kDark = 40;
  constexpr double kLight = 215;
  cv::Mat grey;
  mean.convertTo(grey, CV_8U, kLight - kDark, kDark);
  cv::Mat bgr;
  cv::merge(std::vector<cv::Mat>(3, grey), bgr);
  auto again = SeedFromPhoto(bgr, text);
  if (!again || again->cost >= seed.cost) return std::nullopt;
  if (again->lettering.frame.kind != seed.lettering.frame.kind) return std::nullopt;
  std::map<std::string, double> widths;
  for (const auto& e : seed.lettering.elements) widths[e.id] = outline::Bounds(e.outline).width();
  const bool same = std::all_of(
      again->lettering.elements.begin(), again->lettering.elements.end(), [&](const auto& e) {
        const auto was = widths.find(e.id);
        return was != widths.end() &&
               !IsCutOtherwise(outline::Bounds(e.outline).width(), was->second);
      });
  if (same) return std::nullopt;
  return std::move(*again);
}

Result<Seed> BestSeed(const std::vector<NamedPhoto>& photos, const reading::TextSpec& text,
                      std::size_t* idx) {
  constexpr double kOutvoted = 0.5;
  std::vector<std::optional<Seed>> seeds(photos.size());
  Result<Seed> refusal = Refuse(ErrorCode::kNoStamp, "trace", "", "", "");
  bool any = false;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    auto seed = SeedFromPhoto(photos[i].bgr, text);
    if (seed) {
      seeds[i] = std::move(*seed);
      any = true;
    } else if (refusal.error().where.empty()) {
      refusal = PassOn(seed);
      refusal.error().where = photos[i].name;
    }
  }
  if (!any) return refusal;
  const auto outvoted = Outvoted(seeds);
  double least = 0;
  bool first = true;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    if (!seeds[i]) continue;
    const double cost = seeds[i]->cost + kOutvoted * outvoted[i];
    if (!first && cost >= least) continue;
    first = false;
    least = cost;
    *idx = i;
  }
  return std::move(*seeds[*idx]);
}

}  // namespace debossier::trace
