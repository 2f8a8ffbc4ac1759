#include "accuracy/day_script.h"

#include <stdlib.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>
#include <opencv2/video/tracking.hpp>

#include "separate/raster.h"

namespace debossier::accuracy {

namespace {

constexpr double kPxPerCap = 60;
constexpr double kMargin = 0.3;  // cap heights

/// The template's picture: the corner of its box in the stamp, and its size.
struct Frame {
  outline::Point corner;  ///< Upper left, cap heights.
  cv::Size size;
  cv::Point2d Px(const outline::Point& p) const {
    return {kPxPerCap * (p.x() - corner.x()), kPxPerCap * (corner.y() - p.y())};
  }
  cv::Rect Px(const outline::Box& box) const {
    const cv::Point2d a = Px(outline::Point(box.min.x(), box.max.y()));
    const cv::Point2d b = Px(outline::Point(box.max.x(), box.min.y()));
    return cv::Rect(cv::Point(a), cv::Point(b)) & cv::Rect(cv::Point(0, 0), size);
  }
};

Frame FrameOf(const outline::Lettering& lettering) {
  const outline::Box box = outline::Bounds(lettering);
  return {{box.min.x() - kMargin, box.max.y() + kMargin},
          {cvCeil(kPxPerCap * (box.width() + 2 * kMargin)),
           cvCeil(kPxPerCap * (box.height() + 2 * kMargin))}};
}

cv::Mat Template(const outline::Lettering& lettering, const Frame& frame) {
  cv::Mat drawn = cv::Mat::zeros(frame.size, CV_8U);
  const auto fill = [&](const outline::Outline& outline) {
    auto polygons = outline::Flatten(outline, 0.005);
    for (auto& polygon : polygons) {
      for (auto& p : polygon) {
        const cv::Point2d px = frame.Px(p);
        p = outline::Point(px.x, px.y);
      }
    }
    separate::FillPolygons(polygons, drawn);
  };
  for (const auto& element : lettering.elements) fill(element.outline);
  fill(outline::FrameOutline(lettering.frame));
  return drawn;
}

/// A line's box and some room about it.
outline::Box BoxOfLine(const outline::Lettering& lettering, int line_idx) {
  constexpr double kRoom = 0.25;
  outline::Box line;
  for (const auto& e : lettering.elements) {
    if (e.line_idx == line_idx) line.Add(outline::Bounds(e.outline));
  }
  line.min -= outline::Point(kRoom, kRoom);
  line.max += outline::Point(kRoom, kRoom);
  return line;
}

/// Foil as 255: the smaller side of Otsu's threshold.
cv::Mat Thresholded(const cv::Mat& grey) {
  cv::Mat smooth;
  cv::Mat mask;
  cv::GaussianBlur(grey, smooth, {}, 1);
  cv::threshold(smooth, mask, 0, 255, cv::THRESH_BINARY | cv::THRESH_OTSU);
  if (2 * cv::countNonZero(mask) > static_cast<int>(mask.total())) cv::bitwise_not(mask, mask);
  return mask;
}

/// Photo's crop from template, by ECC; empty where it does not converge.
cv::Mat Align(const cv::Mat& drawn, const cv::Mat& mask, const cv::Mat& start) {
  cv::Mat warp;
  start.convertTo(warp, CV_32F);
  const cv::TermCriteria until(cv::TermCriteria::COUNT | cv::TermCriteria::EPS, 80, 1e-4);
  try {
    // Rough first: what the filter blurs away cannot hold the alignment up.
    for (const int filter : {25, 9, 5}) {
      cv::findTransformECC(drawn, mask, warp, cv::MOTION_HOMOGRAPHY, until, {}, filter);
    }
  } catch (const cv::Exception&) {
    return {};
  }
  return warp;
}

/// The box of the components that lie mostly in `box`; empty where there are none.
cv::Rect ComponentsIn(const cv::Mat& stats, const cv::Rect& box) {
  constexpr double kMostly = 0.6;
  const int margin = cvRound(0.05 * kPxPerCap);
  const cv::Rect reach =
      cv::Rect(box.x - margin, box.y - margin, box.width + 2 * margin, box.height + 2 * margin);
  cv::Rect all;
  for (int k = 1; k < stats.rows; ++k) {
    const cv::Rect own(stats.at<int>(k, cv::CC_STAT_LEFT), stats.at<int>(k, cv::CC_STAT_TOP),
                       stats.at<int>(k, cv::CC_STAT_WIDTH), stats.at<int>(k, cv::CC_STAT_HEIGHT));
    if (stats.at<int>(k, cv::CC_STAT_AREA) < 12) continue;
    if ((own & reach).area() > kMostly * own.area()) all = all.empty() ? own : all | own;
  }
  return all;
}

}  // namespace

std::vector<NeighbourGap> NeighbourGaps(const outline::Lettering& lettering) {
  std::vector<NeighbourGap> gaps;
  for (std::size_t i = 1; i < lettering.elements.size(); ++i) {
    std::size_t left = i - 1;
    const bool mark = lettering.elements[i].kind == outline::ElementKind::kMark;
    if (mark) {
      for (std::size_t k = 0; k < i; ++k) {
        if (lettering.elements[k].line_idx == 0) left = k;
      }
    } else if (lettering.elements[left].line_idx != lettering.elements[i].line_idx) {
      continue;
    }
    const auto a = outline::Bounds(lettering.elements[left].outline);
    const auto b = outline::Bounds(lettering.elements[i].outline);
    if (!a.empty() && !b.empty()) gaps.push_back({left, i, b.min.x() - a.max.x()});
  }
  return gaps;
}

ScriptReading ReadWithScript(const cv::Mat& bgr, const cv::Rect& crop,
                             const outline::Lettering& lettering, int line_idx) {
  ScriptReading out;
  const cv::Rect seen = crop & cv::Rect(0, 0, bgr.cols, bgr.rows);
  const Frame frame = FrameOf(lettering);
  const cv::Mat drawn = Template(lettering, frame);
  cv::Mat grey;
  cv::cvtColor(bgr(seen), grey, cv::COLOR_BGR2GRAY);
  const cv::Mat mask = Thresholded(grey);
  const double scale_x = static_cast<double>(seen.width) / frame.size.width;
  const double scale_y = static_cast<double>(seen.height) / frame.size.height;
  const cv::Mat start = (cv::Mat_<double>(3, 3) << scale_x, 0, 0, 0, scale_y, 0, 0, 0, 1);
  const cv::Mat warp = Align(drawn, mask, start);
  const auto neighbours = NeighbourGaps(lettering);
  out.gaps.assign(neighbours.size(), std::nan(""));
  if (warp.empty()) return out;
  out.aligned = true;
  cv::Mat upright;
  cv::warpPerspective(mask, upright, warp, frame.size, cv::INTER_LINEAR | cv::WARP_INVERSE_MAP);
  cv::threshold(upright, upright, 127, 255, cv::THRESH_BINARY);
  out.overlap = static_cast<double>(cv::countNonZero(upright & drawn)) /
                std::max(1, cv::countNonZero(upright | drawn));
  cv::Mat labels;
  cv::Mat stats;
  cv::Mat middles;
  cv::connectedComponentsWithStats(upright, labels, stats, middles);
  for (std::size_t k = 0; k < neighbours.size(); ++k) {
    const auto box = [&](std::size_t i) {
      const auto bounds = outline::Bounds(lettering.elements[i].outline);
      return ComponentsIn(stats, frame.Px(bounds));
    };
    const cv::Rect left = box(neighbours[k].left);
    const cv::Rect right = box(neighbours[k].right);
    if (left.empty() || right.empty()) continue;
    out.gaps[k] = (right.x - left.br().x) / kPxPerCap;
    out.worst_gap = std::max(out.worst_gap, std::abs(out.gaps[k] - neighbours[k].gap));
  }
  if (line_idx >= 0) {
    const cv::Rect line = frame.Px(BoxOfLine(lettering, line_idx));
    cv::Mat picture;
    cv::warpPerspective(grey, picture, warp, frame.size, cv::INTER_CUBIC | cv::WARP_INVERSE_MAP);
    picture = picture(line).clone();
    // Dark on light, as printed text is.
    if (cv::mean(picture, upright(line))[0] > cv::mean(picture)[0]) {
      cv::bitwise_not(picture, picture);
    }
    out.text = RecognisedText(picture);
  }
  return out;
}

cv::Mat TemplateOfLine(const outline::Lettering& lettering, int line_idx) {
  const Frame frame = FrameOf(lettering);
  cv::Mat picture;
  cv::bitwise_not(Template(lettering, frame)(frame.Px(BoxOfLine(lettering, line_idx))), picture);
  return picture;
}

std::string RecognisedText(const cv::Mat& grey) {
  const char* folder = getenv("TMPDIR");
  std::string path = std::string(folder != nullptr ? folder : "/tmp") + "/line-XXXXXX.png";
  const int file = mkstemps(path.data(), 4);
  if (file < 0) return {};
  close(file);
  std::string text;
  cv::Mat large;
  cv::resize(grey, large, {}, 2, 2, cv::INTER_CUBIC);
  if (cv::imwrite(path, large)) {
    const std::string command = "tesseract '" + path + "' stdout --psm 7 2>/dev/null";
    if (FILE* pipe = popen(command.c_str(), "r"); pipe != nullptr) {
      std::array<char, 256> part{};
      while (std::size_t n = fread(part.data(), 1, part.size(), pipe)) text.append(part.data(), n);
      pclose(pipe);
    }
  }
  unlink(path.c_str());
  while (!text.empty() && static_cast<unsigned char>(text.back()) <= ' ') text.pop_back();
  return text;
}

}  // namespace debossier::accuracy
