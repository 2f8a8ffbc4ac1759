#include "fit/line_band.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/quantile.h"
#include "outline/letter_class.h"
#include "separate/plain_coverage.h"
#include "separate/raster.h"

namespace debossier::fit {

namespace {

constexpr double kAbove = 2.0;  // of the line's cap height
constexpr double kBelow = 1.1;
constexpr double kAside = 0.74;  // of the line's width, from its middle
constexpr double kPxPerCap = 40;
constexpr double kClear = 0.1;  // cap heights about other lines' letters

/// From stamp to band.
struct BandGrid {
  Point top_left = Point::Zero();
  double scale = 1;  ///< Band pixels per cap height of the wordmark.
  cv::Size size;
  Point ToBand(const Point& stamp) const {
    return {(stamp.x() - top_left.x()) * scale, (top_left.y() - stamp.y()) * scale};
  }
};

cv::Mat Filled(const outline::Outline& outline, const BandGrid& grid) {
  auto polygons = outline::Flatten(outline, 0.2 / grid.scale);
  for (auto& polygon : polygons) {
    for (auto& p : polygon) p = grid.ToBand(p);
  }
  cv::Mat mask = cv::Mat::zeros(grid.size, CV_8U);
  separate::FillPolygons(polygons, mask);
  return mask;
}

void ClearOtherLines(const outline::Lettering& reference, int line_idx, const PlaceReport& placed,
                     const BandGrid& grid, cv::Mat& coverage) {
  cv::Mat others = cv::Mat::zeros(grid.size, CV_8U);
  for (std::size_t i = 0; i < reference.elements.size(); ++i) {
    const auto& e = reference.elements[i];
    const bool of_line = e.line_idx == line_idx && e.kind == outline::ElementKind::kLetter;
    if (of_line || e.outline.empty()) continue;
    const outline::Affine move =
        i < placed.elements.size() ? MoveOf(placed.elements[i]) : outline::Affine{};
    others |= Filled(outline::Transformed(e.outline, move), grid);
  }
  const int reach = std::max(1, cvRound(kClear * grid.scale));
  cv::dilate(others, others,
             cv::getStructuringElement(cv::MORPH_ELLIPSE, {2 * reach + 1, 2 * reach + 1}));
  coverage.setTo(0, others);
}

void ClearFrame(const outline::Frame& frame, const BandGrid& grid, cv::Mat& coverage) {
  outline::Frame inner = frame;
  inner.line_weight = 0.01;
  inner.radius -= Point::Constant(0.5 * frame.line_weight + 0.04);
  if (inner.radius.minCoeff() <= 0) return;
  outline::Outline inside;
  inside.contours.push_back(outline::FrameOutline(inner).contours.back());
  cv::Mat mask = Filled(inside, grid);
  coverage.setTo(0, mask == 0);
}

/// The line's own letters as a face; a letter that comes twice is taken the first time.
typeset::GeneralFace OwnLetters(const outline::Lettering& reference, int line_idx, double height) {
  constexpr double kSpace = 0.35;   // cap heights
  constexpr double kCloser = 0.06;  // tracking is tried on top of the advances
  typeset::GeneralFace face;
  face.name = "own";
  face.glyphs[" "].advance = kSpace;
  std::vector<double> gaps;
  double last = 0;
  const outline::Line& line = reference.lines[static_cast<std::size_t>(line_idx)];
  for (const auto& e : reference.elements) {
    if (e.line_idx != line_idx || e.kind != outline::ElementKind::kLetter || e.outline.empty()) {
      continue;
    }
    const outline::Box box = outline::Bounds(e.outline);
    if (face.glyphs.size() > 1) gaps.push_back((box.min.x() - last) / height);
    last = box.max.x();
    auto& glyph = face.glyphs[e.character];
    if (!glyph.outline.empty()) continue;
    const Eigen::Matrix2d linear = Eigen::Matrix2d::Identity() / height;
    glyph.outline =
        outline::Transformed(e.outline, {linear, -Point(box.min.x(), line.baseline) / height});
    glyph.advance = box.width() / height - kCloser;
  }
  const double gap = gaps.empty() ? 0 : UpperMedian(std::move(gaps));
  for (auto& [character, glyph] : face.glyphs) {
    if (!glyph.outline.empty()) glyph.advance += gap;
  }
  return face;
}

}  // namespace

PlacedBand BandAround(const outline::Lettering& reference, int line_idx,
                      const outline::Frame& frame, const PlaceReport& placed) {
  PlacedBand out;
  reading::LineBand& band = out.band;
  outline::Box box;
  for (const auto& e : reference.elements) {
    const bool letter = e.kind == outline::ElementKind::kLetter;
    if (letter && e.line_idx == line_idx) box.Add(outline::Bounds(e.outline));
  }
  if (box.empty()) return out;
  const outline::Line& line = reference.lines[static_cast<std::size_t>(line_idx)];
  const double height = std::max(0.05, outline::NominalHeight(line));
  BandGrid grid;
  grid.scale = kPxPerCap / height;
  const double half = kAside * box.width() + 0.5 * height;
  grid.top_left = {box.centre().x() - half, line.baseline + kAbove * height};
  grid.size = {std::clamp(cvCeil(2 * half * grid.scale), 8, 8000),
               cvCeil((kAbove + kBelow) * kPxPerCap)};
  const double map_px = placed.map_from_stamp.ScaleAt(box.centre());
  const cv::Mat plain = placed.cut.empty()
                            ? placed.coverage.alpha
                            : separate::PlainCoverage(placed.cut, placed.coverage, height * map_px);
  const EdgeReader reader(plain, placed.map_from_stamp);
  band.coverage.create(grid.size, CV_32F);
  for (int y = 0; y < grid.size.height; ++y) {
    for (int x = 0; x < grid.size.width; ++x) {
      const Point stamp = grid.top_left + Point(x, -y) / grid.scale;
      band.coverage.at<float>(y, x) =
          static_cast<float>(std::clamp(reader.CoverageAt(stamp, 0), 0.0, 1.0));
    }
  }
  ClearOtherLines(reference, line_idx, placed, grid, band.coverage);
  const bool framed =
      frame.kind != outline::FrameKind::kNone && (frame.line_idx < 0 || frame.line_idx == line_idx);
  if (framed) ClearFrame(frame, grid, band.coverage);
  band.own = OwnLetters(reference, line_idx, height);
  band.px_per_cap = kPxPerCap;
  band.baseline = kAbove * kPxPerCap;
  band.blur_px = placed.map_from_stamp.blur_px / std::max(1e-6, map_px) * grid.scale;
  out.stamp_from_band.linear << 1 / grid.scale, 0, 0, -1 / grid.scale;
  out.stamp_from_band.offset = grid.top_left;
  return out;
}

std::vector<outline::Outline> LettersAsRead(const PlacedBand& placed,
                                            const reading::StringFit& fit) {
  std::vector<outline::Outline> letters;
  const auto faces = reading::FacesFor(placed.band);
  const auto characters = outline::Characters(fit.text);
  const double size = fit.size * placed.band.px_per_cap;
  for (std::size_t k = 0; k < characters.size(); ++k) {
    letters.emplace_back();
    if (k >= fit.pen.size()) continue;
    const auto* glyph = faces[static_cast<std::size_t>(fit.face)]->Find(characters[k]);
    if (glyph == nullptr) continue;
    outline::Affine to_band;
    to_band.linear << size * fit.widen, 0, 0, -size;
    to_band.offset = Point(fit.pen[k], fit.baseline);
    const outline::Affine& map = placed.stamp_from_band;
    letters.back() =
        outline::Transformed(glyph->outline, {map.linear * to_band.linear, map * to_band.offset});
  }
  return letters;
}

}  // namespace debossier::fit
