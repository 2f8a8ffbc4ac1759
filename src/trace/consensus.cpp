#include "trace/consensus.h"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "base/unicode.h"
#include "outline/letter_class.h"
#include "separate/raster.h"
#include "trace/bezier_fit.h"
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

namespace {

/// Outlines of one element from a field that holds only it, mapped by `to`.
outline::Outline TraceElement(const cv::Mat& field, const outline::Affine& to, double min_area,
                              double tolerance, const SharpenOptions* sharpen = nullptr) {
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

/// A frame from its drawn box: the rule's middle lies half a line weight inside.
outline::Frame FrameFromBox(const layout::TextSpec& text, const cv::Rect& box, double area,
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

std::vector<outline::Line> LinesOf(const layout::TextSpec& text) {
  std::vector<outline::Line> lines;
  for (const auto& l : text.lines) lines.push_back({l.id, l.text, 0, 0, 0});
  return lines;
}

struct ReadPhoto {
  layout::Reading reading;
  double map_scale = 1;
};

Result<ReadPhoto> ReadBest(const cv::Mat& bgr, const layout::TextSpec& text) {
  const auto relative = separate::SubtractGround(bgr);
  Result<ReadPhoto> best = Refuse(ErrorCode::kNoStamp, "trace", "", "", "");
  double best_cost = 1e9;
  for (const auto polarity : {separate::Polarity::kSigned, separate::Polarity::kUnsigned,
                              separate::Polarity::kReversed}) {
    const auto map = separate::Contrast(relative, polarity);
    auto reading = layout::ReadText(map, text);
    if (!reading) {
      if (best_cost > 1e8) best = PassOn(reading);
      continue;
    }
    // The unsigned contrast takes the shadow beside the foil for foil, and reads well all the same.
    constexpr double kOtherPolarity = 1.5;
    const double cost =
        reading->cost + (polarity == separate::Polarity::kSigned ? 0 : kOtherPolarity);
    if (cost >= best_cost) continue;
    best_cost = cost;
    best = ReadPhoto{std::move(*reading), map.scale};
    if (best_cost < 4) break;
  }
  return best;
}

}  // namespace

Result<Seed> SeedFromPhoto(const cv::Mat& bgr, const layout::TextSpec& text) {
  auto read = ReadBest(bgr, text);
  if (!read) return PassOn(read);
  const layout::Reading& reading = read->reading;
  // Coverage in the upright frame, learned from the reading itself.
  separate::PixelGrid grid;
  const double cap_px = std::max(4.0, reading.height_px[0]);
  const cv::Mat reduced = separate::CutOut(bgr, cv::Rect(0, 0, bgr.cols, bgr.rows), read->map_scale,
                                           separate::SmoothingFor(cap_px * read->map_scale), &grid);
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
    const auto& e = reading.elements[i];
    const int margin = std::max(2, cvRound(0.08 * cap_px));
    const cv::Rect around =
        (cv::Rect(cvRound(e.box.x) - margin, cvRound(e.box.y) - margin,
                  cvRound(e.box.width) + 2 * margin, cvRound(e.box.height) + 2 * margin) &
         cv::Rect(0, 0, upright.cols, upright.rows));
    if (around.area() == 0) continue;
    // The element's own pixels and a rim; what belongs to others is ground here.
    const cv::Mat labels = reading.element_of(around);
    cv::Mat own = labels == static_cast<int>(i + 1);
    cv::dilate(own, own, cv::Mat(), cv::Point(-1, -1), margin / 2 + 1);
    own.setTo(0, (labels != static_cast<int>(i + 1)) & (labels != 0));
    cv::Mat field = cv::Mat::zeros(around.size(), CV_32F);
    coverage.alpha(around).copyTo(field, own);
    outline::Affine to = stamp_from_upright;
    to.offset = stamp_from_upright * outline::Point(around.x, around.y);
    outline::Element element;
    element.id = e.id;
    element.line_idx = e.line_idx;
    element.kind = e.is_mark ? outline::ElementKind::kMark : outline::ElementKind::kLetter;
    element.character = e.character;
    element.outline = TraceElement(field, to, 0.0012, 0.006);
    if (element.outline.empty()) {
      seed.untraced.push_back(std::move(element));
    } else {
      seed.lettering.elements.push_back(std::move(element));
    }
  }
  const std::size_t untraced = seed.untraced.size();
  if (5 * untraced > untraced + seed.lettering.elements.size()) {
    return Refuse(ErrorCode::kNoStamp, "trace", "",
                  fmt::format("{} of {} letters cannot be told from the leather", untraced,
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
  // photo <- map <- upright <- old stamp <- normalised stamp
  Eigen::Matrix3d upright_from_stamp = Eigen::Matrix3d::Identity();
  upright_from_stamp << cap_px, 0, 0, 0, -cap_px, reading.baseline_px[0], 0, 0, 1;
  Eigen::Matrix3d normal_from_stamp = Eigen::Matrix3d::Identity();
  normal_from_stamp.topLeftCorner<2, 2>() = normal.linear;
  normal_from_stamp.topRightCorner<2, 1>() = normal.offset;
  Eigen::Matrix3d upright_from_map = Eigen::Matrix3d::Identity();
  for (int r = 0; r < 2; ++r) {
    for (int c = 0; c < 3; ++c) upright_from_map(r, c) = reading.upright_from_map(r, c);
  }
  seed.photo_from_stamp.photo_from_stamp = grid.PhotoFromMap() * upright_from_map.inverse() *
                                           upright_from_stamp * normal_from_stamp.inverse();
  return seed;
}

namespace {

struct StampGrid {
  cv::Size size;
  Eigen::Matrix3d grid_from_stamp = Eigen::Matrix3d::Identity();
  outline::Affine stamp_from_grid;
};

StampGrid GridAround(const outline::Lettering& lettering, double px_per_cap) {
  constexpr double kMargin = 0.3;
  const outline::Box box = outline::Bounds(lettering);
  const double longest = std::max(box.width(), box.height()) + 2 * kMargin;
  const double scale = std::min(px_per_cap, 6000 / longest);
  StampGrid grid;
  grid.size = cv::Size(cvCeil((box.width() + 2 * kMargin) * scale),
                       cvCeil((box.height() + 2 * kMargin) * scale));
  const double x0 = box.min.x() - kMargin;
  const double y1 = box.max.y() + kMargin;
  grid.grid_from_stamp << scale, 0, -x0 * scale, 0, -scale, y1 * scale, 0, 0, 1;
  grid.stamp_from_grid.linear << 1 / scale, 0, 0, -1 / scale;
  grid.stamp_from_grid.offset = outline::Point(x0, y1);
  return grid;
}

/// The item's coverage drawn in the stamp grid; NaN-free, 0 outside the photo.
cv::Mat InStampGrid(const fit::PlaceReport& item, const StampGrid& grid) {
  const Eigen::Matrix3d h = item.map_from_stamp.photo_from_stamp * grid.grid_from_stamp.inverse();
  cv::Matx33d map_from_grid;
  for (int r = 0; r < 3; ++r) {
    for (int c = 0; c < 3; ++c) map_from_grid(r, c) = h(r, c);
  }
  cv::Mat out;
  cv::warpPerspective(item.coverage.alpha, out, map_from_grid, grid.size,
                      cv::INTER_LINEAR | cv::WARP_INVERSE_MAP, cv::BORDER_CONSTANT, 0);
  return out;
}

/// Gives pieces to the element that they are joined to in the mean: what a cut through touching
/// letters in one photo gave to a neighbour (a serif over the next letter's foot).
void RejoinPieces(const cv::Mat& mean, std::size_t elements, cv::Mat& element_of) {
  constexpr double kPiece = 0.3;  // of the element that would lose it
  constexpr double kMost = 0.6;   // of the component that must be the winner's
  cv::Mat labels;
  const int count = cv::connectedComponents(mean > 0.5f, labels, 8, CV_32S);
  std::map<std::pair<int, int>, int> pixels;  // by component and element
  std::vector<int> of_element(elements, 0);
  std::vector<int> of_component(static_cast<std::size_t>(count), 0);
  const auto each = [&](auto visit) {
    for (int y = 0; y < labels.rows; ++y) {
      for (int x = 0; x < labels.cols; ++x) {
        const int label = labels.at<int>(y, x);
        short& element = element_of.at<short>(y, x);
        if (label != 0 && element >= 0) visit(label, element);
      }
    }
  };
  each([&](int label, short element) {
    ++pixels[{label, element}];
    ++of_element[static_cast<std::size_t>(element)];
    ++of_component[static_cast<std::size_t>(label)];
  });
  std::vector<int> winner(static_cast<std::size_t>(count), -1);
  for (const auto& [key, n] : pixels) {
    if (n >= kMost * of_component[static_cast<std::size_t>(key.first)]) {
      winner[static_cast<std::size_t>(key.first)] = key.second;
    }
  }
  each([&](int label, short& element) {
    const int to = winner[static_cast<std::size_t>(label)];
    if (to < 0 || to == element) return;
    const int piece = pixels.at({label, element});
    if (piece < kPiece * of_element[static_cast<std::size_t>(element)]) {
      element = static_cast<short>(to);
    }
  });
}

/// The outline filled in the stamp grid.
cv::Mat Raster(const outline::Outline& outline, const StampGrid& grid) {
  auto polygons = outline::Flatten(outline, 0.3 / grid.grid_from_stamp(0, 0));
  for (auto& polygon : polygons) {
    for (auto& p : polygon) {
      p = outline::Point(grid.grid_from_stamp(0, 0) * p.x() + grid.grid_from_stamp(0, 2),
                         grid.grid_from_stamp(1, 1) * p.y() + grid.grid_from_stamp(1, 2));
    }
  }
  cv::Mat mask = cv::Mat::zeros(grid.size, CV_8U);
  separate::FillPolygons(polygons, mask);
  return mask;
}

/// Which element each grid pixel belongs to: the nearest within reach, -1 beyond.
cv::Mat ElementOfPixels(const cv::Mat& mean, const outline::Lettering& lettering,
                        const StampGrid& grid) {
  const double scale = grid.grid_from_stamp(0, 0);
  cv::Mat drawn = cv::Mat::zeros(grid.size, CV_8U);
  cv::Mat element_of(grid.size, CV_16S, cv::Scalar(-1));
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    const cv::Mat own = Raster(lettering.elements[i].outline, grid);
    element_of.setTo(static_cast<int>(i), own & (drawn == 0));
    drawn |= own;
  }
  RejoinPieces(mean, lettering.elements.size(), element_of);
  cv::Mat distance;
  cv::Mat nearest;
  cv::distanceTransform(drawn == 0, distance, nearest, cv::DIST_L2, 5, cv::DIST_LABEL_PIXEL);
  // Label of the nearest drawn pixel, then its element.
  std::vector<short> element_of_label(1, -1);
  for (int y = 0; y < grid.size.height; ++y) {
    for (int x = 0; x < grid.size.width; ++x) {
      if (drawn.at<unsigned char>(y, x) == 0) continue;
      const std::size_t label = static_cast<std::size_t>(nearest.at<int>(y, x));
      if (label >= element_of_label.size()) element_of_label.resize(label + 1, -1);
      element_of_label[label] = element_of.at<short>(y, x);
    }
  }
  const float reach = static_cast<float>(0.12 * scale);
  for (int y = 0; y < grid.size.height; ++y) {
    for (int x = 0; x < grid.size.width; ++x) {
      if (drawn.at<unsigned char>(y, x) != 0 || distance.at<float>(y, x) > reach) continue;
      element_of.at<short>(y, x) =
          element_of_label[static_cast<std::size_t>(nearest.at<int>(y, x))];
    }
  }
  return element_of;
}

/// The lettering's own pixels in the stamp grid.
cv::Mat Drawn(const outline::Lettering& lettering, const StampGrid& grid) {
  cv::Mat drawn = cv::Mat::zeros(grid.size, CV_8U);
  for (const auto& element : lettering.elements) drawn |= Raster(element.outline, grid);
  return drawn;
}

/// Mean coverage of the items. Where foil has worn off an item says little, so it counts by how
/// much of the lettering's foil it shows near by.
cv::Mat MeanCoverage(const std::vector<fit::PlaceReport>& items,
                     const outline::Lettering& lettering, const StampGrid& grid) {
  constexpr double kNear = 0.05;   // cap heights, standard deviation
  constexpr float kLeast = 0.03f;  // so that a place worn on all items still has a mean
  const double sigma = kNear * grid.grid_from_stamp(0, 0);
  cv::Mat inside;
  Drawn(lettering, grid).convertTo(inside, CV_32F, 1 / 255.0);
  cv::Mat room;
  cv::GaussianBlur(inside, room, cv::Size(), sigma);
  room += 1e-3;
  cv::Mat sum = cv::Mat::zeros(grid.size, CV_32F);
  cv::Mat weights = cv::Mat::zeros(grid.size, CV_32F);
  for (const auto& item : items) {
    cv::Mat one = InStampGrid(item, grid);
    cv::min(one, 1.25, one);
    cv::max(one, -0.25, one);
    cv::Mat shown;
    cv::GaussianBlur(one.mul(inside), shown, cv::Size(), sigma);
    cv::divide(shown, room, shown);
    cv::min(shown, 1.0, shown);
    cv::max(shown, 0.0, shown);
    cv::Mat weight;
    cv::pow(shown, 2, weight);
    weight += kLeast;
    sum += one.mul(weight);
    weights += weight;
  }
  cv::divide(sum, weights, sum);
  return sum;
}

/// Takes off small parts that stand above or below the line of a letter without accent or tail: a
/// piece of the frame's rule, a scratch.
void DropStrayParts(const outline::Line& line, outline::Element& element) {
  constexpr double kMostOfLetter = 0.25;
  constexpr double kBeyond = 0.04;  // of the line's height
  const bool plain = element.kind == outline::ElementKind::kLetter &&
                     IsCapital(element.character) && !HasAccent(element.character) &&
                     element.character != "Q" && element.character != "J";
  if (!plain || line.cap_height <= 0) return;
  const double area = outline::SignedArea(element.outline);
  const double low = line.baseline - kBeyond * line.cap_height;
  const double high = line.baseline + (1 + kBeyond) * line.cap_height;
  auto& contours = element.outline.contours;
  const auto stray = [&](const outline::Contour& contour) {
    outline::Outline part;
    part.contours.push_back(contour);
    const double middle = outline::Bounds(part).centre().y();
    return (middle < low || middle > high) &&
           std::abs(outline::SignedArea(part)) < kMostOfLetter * area;
  };
  contours.erase(std::remove_if(contours.begin(), contours.end(), stray), contours.end());
}

/// Standard deviation of the mean coverage over the ground.
double NoiseOfMean(const std::vector<fit::PlaceReport>& items) {
  double squares = 0;
  for (const auto& item : items) squares += item.coverage.noise * item.coverage.noise;
  return std::sqrt(squares) / static_cast<double>(items.size());
}

/// Re-traces every element from the mean coverage.
void Retrace(const cv::Mat& mean, const StampGrid& grid, const ConsensusOptions& options,
             double noise, outline::Lettering& lettering) {
  // Taking out the blur brings out the noise as well: a single photo of coarse cloth bears none of
  // it.
  const SharpenOptions* sharpen = noise < options.most_noise ? &options.sharpen : nullptr;
  cv::Mat smooth;
  const double sigma = std::max(0.6, options.smoothing * grid.grid_from_stamp(0, 0));
  cv::GaussianBlur(mean, smooth, cv::Size(), sigma);
  const cv::Mat element_of = ElementOfPixels(smooth, lettering, grid);
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    auto& element = lettering.elements[i];
    const outline::Box box = outline::Bounds(element.outline);
    if (box.empty()) continue;
    const double scale = grid.grid_from_stamp(0, 0);
    const int margin = cvCeil(0.15 * scale);
    const cv::Rect around =
        cv::Rect(cvFloor(box.min.x() * scale + grid.grid_from_stamp(0, 2)) - margin,
                 cvFloor(-box.max.y() * scale + grid.grid_from_stamp(1, 2)) - margin,
                 cvCeil(box.width() * scale) + 2 * margin,
                 cvCeil(box.height() * scale) + 2 * margin) &
        cv::Rect(cv::Point(0, 0), grid.size);
    cv::Mat field = cv::Mat::zeros(around.size(), CV_32F);
    smooth(around).copyTo(field, element_of(around) == static_cast<int>(i));
    outline::Affine to = grid.stamp_from_grid;
    to.offset = grid.stamp_from_grid * outline::Point(around.x, around.y);
    outline::Outline traced = TraceElement(field, to, options.min_part_area, 0.003, sharpen);
    if (traced.empty()) continue;
    element.outline = std::move(traced);
    DropStrayParts(lettering.lines[static_cast<std::size_t>(element.line_idx)], element);
  }
}

/// Rise over run of the wordmark's letters: the median slope between any two flat bases, or flat
/// tops (Theil 1950, Sen 1968).
double SlopeOfWordmark(const outline::Lettering& lettering) {
  std::vector<outline::Point> bases;
  std::vector<outline::Point> tops;
  for (const auto& e : lettering.elements) {
    if (e.line_idx != 0 || e.kind != outline::ElementKind::kLetter) continue;
    const outline::Box box = outline::Bounds(e.outline);
    if (box.empty()) continue;
    if (outline::HasFlatBase(e.character)) bases.emplace_back(box.centre().x(), box.min.y());
    if (outline::HasFlatTop(e.character) && IsCapital(e.character)) {
      tops.emplace_back(box.centre().x(), box.max.y());
    }
  }
  std::vector<double> slopes;
  for (const auto& points : {bases, tops}) {
    for (std::size_t i = 0; i < points.size(); ++i) {
      for (std::size_t j = i + 1; j < points.size(); ++j) {
        const outline::Point d = points[j] - points[i];
        constexpr double kFarEnough = 1;  // cap heights
        if (d.x() > kFarEnough) slopes.push_back(d.y() / d.x());
      }
    }
  }
  if (slopes.size() < 3) return 0;
  std::sort(slopes.begin(), slopes.end());
  const std::size_t middle = slopes.size() / 2;
  return slopes.size() % 2 == 1 ? slopes[middle] : 0.5 * (slopes[middle - 1] + slopes[middle]);
}

/// The outline with its points mapped by `h`; close to the identity, so that control points may be
/// mapped like points.
outline::Outline Warped(outline::Outline outline, const Eigen::Matrix3d& h) {
  const auto map = [&h](const outline::Point& p) {
    return outline::Point((h * p.homogeneous()).hnormalized());
  };
  for (auto& contour : outline.contours) {
    contour.start = map(contour.start);
    for (auto& segment : contour.segments) {
      segment.control1 = map(segment.control1);
      segment.control2 = map(segment.control2);
      segment.end = map(segment.end);
    }
  }
  return outline;
}

/// Takes the photos' mean aspect, shear and perspective as upright, and the wordmark's line as
/// level: changes the stamp frame.
void Straighten(std::vector<fit::PlaceReport>& items, outline::Lettering& lettering) {
  const outline::Point centre = outline::Bounds(lettering).centre();
  double aspect = 0;
  double shear = 0;
  Eigen::Vector2d perspective = Eigen::Vector2d::Zero();
  const double count = static_cast<double>(items.size());
  for (const auto& item : items) {
    const auto shape = fit::ShapeOf(item.photo_from_stamp, centre);
    aspect += shape.log_aspect / count;
    shear += shape.shear / count;
    perspective += shape.perspective / count;
  }
  // About the centre: the mean perspective divided out, x stretched by the mean aspect, sheared
  // axes in the mean photo upright.
  Eigen::Matrix3d to_centre = Eigen::Matrix3d::Identity();
  to_centre.topRightCorner<2, 1>() = -centre;
  Eigen::Matrix3d divide = Eigen::Matrix3d::Identity();
  divide.bottomLeftCorner<1, 2>() = perspective.transpose();
  Eigen::Matrix3d stretch = Eigen::Matrix3d::Identity();
  stretch(0, 0) = std::exp(aspect);
  stretch(0, 1) = shear;
  Eigen::Matrix3d new_from_old = to_centre.inverse() * stretch * divide * to_centre;
  for (auto& e : lettering.elements) e.outline = Warped(std::move(e.outline), new_from_old);
  const double angle = -std::atan(SlopeOfWordmark(lettering));
  outline::Affine level;
  level.linear << std::cos(angle), -std::sin(angle), std::sin(angle), std::cos(angle);
  level.offset = centre - level.linear * centre;
  for (auto& e : lettering.elements) e.outline = outline::Transformed(e.outline, level);
  const outline::Affine normal = Normalise(lettering);
  const auto as_matrix = [](const outline::Affine& map) {
    Eigen::Matrix3d m = Eigen::Matrix3d::Identity();
    m.topLeftCorner<2, 2>() = map.linear;
    m.topRightCorner<2, 1>() = map.offset;
    return m;
  };
  const Eigen::Matrix3d back = (as_matrix(normal) * as_matrix(level) * new_from_old).inverse();
  for (auto& item : items) {
    for (fit::Placement* placement : {&item.photo_from_stamp, &item.map_from_stamp}) {
      placement->photo_from_stamp = placement->photo_from_stamp * back;
      placement->photo_from_stamp /= placement->photo_from_stamp(2, 2);
    }
  }
}

/// Levels the rule of the frame on the items' mean: shift, axes and weight.
void RefineFrame(const std::vector<fit::PlaceReport>& items, outline::Lettering& lettering) {
  outline::Frame& frame = lettering.frame;
  if (frame.kind == outline::FrameKind::kNone) return;
  const outline::Outline rule = outline::FrameOutline(frame);
  fit::ElementOptions options;
  options.step = 0.05;
  options.gain_sd = 0.05;
  fit::ElementVector sum = fit::ElementVector::Zero();
  double count = 0;
  for (const auto& item : items) {
    const fit::EdgeReader reader(item.coverage.alpha, item.map_from_stamp);
    const auto fit = fit::FitElement(reader, rule, fit::ElementVector::Zero(), options);
    if (!fit.found) continue;
    sum += fit.value;
    count += 1;
  }
  if (count == 0) return;
  sum /= count;
  frame.centre += outline::Point(sum[fit::kShiftX], sum[fit::kShiftY]);
  frame.radius.x() *= std::exp(sum[fit::kLogScaleX]);
  frame.radius.y() *= std::exp(sum[fit::kLogScaleY]);
  frame.line_weight = std::max(0.005, frame.line_weight + 2 * sum[fit::kOwnGain]);
}

/// Whether a letter was cut in another place: it is much wider or narrower than `usual`.
bool IsCutOtherwise(double width, double usual) {
  constexpr double kShare = 0.2;
  constexpr double kLeast = 0.03;  // cap heights
  return std::abs(width - usual) > kShare * usual + kLeast;
}

/// Reads the text again, from the photos' mean, in which hairlines and gaps show that a single
/// photo hides; empty where it reads the letters that `seed` has, or no better.
std::optional<Seed> ReadAgain(const cv::Mat& mean, const layout::TextSpec& text, const Seed& seed) {
  constexpr double kDark = 40;
  constexpr double kLight = 215;
  cv::Mat grey;
  mean.convertTo(grey, CV_8U, kLight - kDark, kDark);
  cv::Mat bgr;
  cv::merge(std::vector<cv::Mat>(3, grey), bgr);
  auto again = SeedFromPhoto(bgr, text);
  if (!again || again->cost >= seed.cost) return std::nullopt;
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
    std::vector<double> sorted;
    for (const auto& [i, width] : each) sorted.push_back(width);
    const auto middle = sorted.begin() + static_cast<std::ptrdiff_t>(sorted.size() / 2);
    std::nth_element(sorted.begin(), middle, sorted.end());
    for (const auto& [i, width] : each) {
      outvoted[i] += IsCutOtherwise(width, *middle);
    }
  }
  return outvoted;
}

/// The photo that reads best, and as most others do. Refuses where none can be read, with the first
/// one's name.
Result<Seed> BestSeed(const std::vector<NamedPhoto>& photos, const layout::TextSpec& text,
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

}  // namespace

Result<Consensus> BuildConsensus(const std::vector<NamedPhoto>& photos,
                                 const layout::TextSpec& text, const ConsensusOptions& options) {
  DEBOSSIER_ASSERT(!photos.empty());
  Consensus out;
  std::size_t best_idx = 0;
  auto best = BestSeed(photos, text, &best_idx);
  if (!best) return PassOn(best);
  out.lettering = best->lettering;
  for (const auto& element : best->untraced) {
    const auto& line = out.lettering.lines[static_cast<std::size_t>(element.line_idx)];
    out.warnings.push_back(
        {"trace", photos[best_idx].name,
         fmt::format("the \"{}\" of \"{}\" ({}) cannot be told from the leather and is left out of "
                     "the set; a clearer photo would bring it in",
                     element.character, line.text, element.id)});
  }
  const fit::Placement seed_placement = best->photo_from_stamp;

  // The photos show one die: their lines have one size, and what differs is perspective.
  fit::PlaceOptions one_die = options.place;
  one_die.whole.lines_move = false;
  bool read_again = photos.size() == 1;
  for (int round = 0; round < options.rounds; ++round) {
    std::vector<fit::PlaceReport> items;
    for (std::size_t i = 0; i < photos.size(); ++i) {
      Result<fit::PlaceReport> placed = Refuse(ErrorCode::kInternal, "", "", "", "");
      if (!out.items.empty()) {
        placed = fit::RefinePlacement(photos[i].bgr, out.lettering, out.items[i].photo_from_stamp,
                                      one_die);
      } else if (i == best_idx) {
        placed = fit::RefinePlacement(photos[i].bgr, out.lettering, seed_placement, one_die);
      } else {
        placed = fit::PlaceLettering(photos[i].bgr, out.lettering, one_die);
      }
      if (!placed) {
        Error error = placed.error();
        error.where = photos[i].name;
        if (photos.size() > 1 && error.code == ErrorCode::kLetteringNotFound) {
          error.code = ErrorCode::kItemsDoNotAgree;
          error.message =
              "does not show the lettering of \"" + photos[best_idx].name + "\": " + error.message;
          error.hint =
              "check that all photos show one lettering; crop to the stamp; leave this photo "
              "out if it cannot be bettered";
        }
        return Unexpected(std::move(error));
      }
      items.push_back(std::move(*placed));
    }
    out.items = std::move(items);
    const StampGrid grid = GridAround(out.lettering, options.grid_px_per_cap);
    const cv::Mat mean = MeanCoverage(out.items, out.lettering, grid);
    if (!read_again) {
      read_again = true;
      if (auto again = ReadAgain(mean, text, *best)) {
        // New outlines at the places that the photos were registered to.
        const Eigen::Matrix3d old_from_new =
            grid.grid_from_stamp.inverse() * again->photo_from_stamp.photo_from_stamp;
        for (auto& item : out.items) {
          auto& placement = item.photo_from_stamp;
          placement.photo_from_stamp = placement.photo_from_stamp * old_from_new;
          placement.stretch = {};
        }
        out.lettering = std::move(again->lettering);
        round = -1;
        continue;
      }
    }
    Retrace(mean, grid, options, NoiseOfMean(out.items), out.lettering);
    RefineFrame(out.items, out.lettering);
    out.mean = mean;
    out.grid_from_stamp = grid.grid_from_stamp;
    Straighten(out.items, out.lettering);
  }
  // The items' fits against the final outlines.
  for (std::size_t i = 0; i < photos.size(); ++i) {
    auto placed = fit::RefinePlacement(photos[i].bgr, out.lettering, out.items[i].photo_from_stamp,
                                       options.place);
    if (placed) out.items[i] = std::move(*placed);
  }
  return out;
}

}  // namespace debossier::trace
