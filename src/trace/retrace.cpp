#include "trace/retrace.h"

#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <map>
#include <opencv2/imgproc.hpp>

#include "base/unicode.h"
#include "outline/letter_class.h"
#include "separate/raster.h"
#include "trace/seed.h"

namespace debossier::trace {

namespace {

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

/// How much each item counts for what is small: by the fourth power of its sharpness.
std::vector<double> BySharpness(const std::vector<fit::PlaceReport>& items,
                                const outline::Lettering& lettering) {
  const outline::Point centre = outline::Bounds(lettering).centre();
  std::vector<double> weights;
  for (const auto& item : items) {
    constexpr double kLeastPx = 0.5;  // also where no edge told the blur
    const double px = std::max(kLeastPx, item.rendered.blur_px);
    const double blur = px / item.map_from_stamp.ScaleAt(centre);
    weights.push_back(item.rendered.empty() ? 0 : 1 / (blur * blur * blur * blur));
  }
  const double most = *std::max_element(weights.begin(), weights.end());
  for (double& weight : weights) weight = most > 0 ? weight / most : 1;
  return weights;
}

/// Each item with its weight.
cv::Mat MeanCoverage(const std::vector<fit::PlaceReport>& items,
                     const outline::Lettering& lettering, const StampGrid& grid,
                     const std::vector<double>& item_weights) {
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
  for (std::size_t i = 0; i < items.size(); ++i) {
    cv::Mat one = InStampGrid(items[i], grid);
    cv::min(one, 1.25, one);
    cv::max(one, -0.25, one);
    cv::Mat shown;
    cv::GaussianBlur(one.mul(inside), shown, cv::Size(), sigma);
    cv::divide(shown, room, shown);
    cv::min(shown, 1.0, shown);
    cv::max(shown, 0.0, shown);
    cv::Mat weight;
    cv::pow(shown, 2, weight);
    weight = item_weights[i] * (weight + kLeast);
    sum += one.mul(weight);
    weights += weight;
  }
  cv::divide(sum, weights, sum);
  return sum;
}

double NoiseOfMean(const std::vector<fit::PlaceReport>& items) {
  double squares = 0;
  for (const auto& item : items) squares += item.coverage.noise * item.coverage.noise;
  return std::sqrt(squares) / static_cast<double>(items.size());
}

}  // namespace

MeanPicture MeanOf(const std::vector<fit::PlaceReport>& items, const outline::Lettering& lettering,
                   const RetraceOptions& options) {
  MeanPicture out;
  out.grid = GridAround(lettering, options.grid_px_per_cap);
  out.mean = MeanCoverage(items, lettering, out.grid, std::vector<double>(items.size(), 1));
  out.sharp_mean = MeanCoverage(items, lettering, out.grid, BySharpness(items, lettering));
  out.noise = NoiseOfMean(items);
  return out;
}

void Retrace(const MeanPicture& picture, const RetraceOptions& options,
             outline::Lettering& lettering) {
  const StampGrid& grid = picture.grid;
  // Taking out the blur brings out the noise as well: a single photo of coarse cloth bears none of
  // it.
  const SharpenOptions* sharpen = picture.noise < options.most_noise ? &options.sharpen : nullptr;
  cv::Mat smooth;
  const double sigma = std::max(0.6, options.smoothing * grid.grid_from_stamp(0, 0));
  cv::GaussianBlur(picture.mean, smooth, cv::Size(), sigma);
  cv::Mat smooth_marks;
  cv::GaussianBlur(picture.sharp_mean, smooth_marks, cv::Size(), sigma);
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
    const bool mark = element.kind == outline::ElementKind::kMark;
    (mark ? smooth_marks : smooth)(around).copyTo(field, element_of(around) == static_cast<int>(i));
    outline::Affine to = grid.stamp_from_grid;
    to.offset = grid.stamp_from_grid * outline::Point(around.x, around.y);
    outline::Outline traced = TraceElement(field, to, options.min_part_area, 0.003, sharpen);
    if (traced.empty()) continue;
    element.outline = std::move(traced);
    DropStrayParts(lettering.lines[static_cast<std::size_t>(element.line_idx)], element);
  }
}

}  // namespace debossier::trace
