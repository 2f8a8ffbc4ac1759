#include "report/thumbnail.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <set>

#include "base/text_forms.h"
#include "image/encode_jpeg.h"
#include "report/pages.h"
#include "report/view.h"

namespace debossier::report {

namespace {

constexpr double kWidth = 360;
constexpr double kLeastHeight = 90;
constexpr double kMostHeight = 270;
constexpr int kJpegQuality = 78;
constexpr double kSpeck = 4;  // pixels; smaller patches of foil are not drawn

// The photo as the view shows it; mid grey beyond its edges.
cv::Mat Shown(const cv::Mat& bgr, const View& view) {
  const outline::Affine& a = view.page_from_photo;
  const double scale = std::sqrt(std::abs(a.linear.determinant()));
  const cv::Size size(cvRound(view.panel.width), cvRound(view.panel.height));
  // The part that shows, reduced by areas first: sampling a large photo sparsely would alias.
  const Eigen::Matrix2d back = a.linear.inverse();
  Box part;
  for (const double x : {0.0, view.panel.width}) {
    for (const double y : {0.0, view.panel.height}) part.Add(back * (Point(x, y) - a.offset));
  }
  const cv::Rect whole(0, 0, bgr.cols, bgr.rows);
  const cv::Rect wanted(cv::Point(cvFloor(part.min.x()) - 2, cvFloor(part.min.y()) - 2),
                        cv::Point(cvCeil(part.max.x()) + 3, cvCeil(part.max.y()) + 3));
  const cv::Rect cut = wanted & whole;
  if (cut.empty()) return cv::Mat(size, CV_8UC3, cv::Scalar::all(128));
  cv::Mat reduced = bgr(cut);
  Point factor(1, 1);
  if (scale < 0.7) {
    const cv::Size small(std::max(1, cvRound(cut.width * scale)),
                         std::max(1, cvRound(cut.height * scale)));
    cv::resize(bgr(cut), reduced, small, 0, 0, cv::INTER_AREA);
    factor = {double(cut.width) / small.width, double(cut.height) / small.height};
  }
  // Centre of reduced pixel (i, j) in the photo: cut + (i + 1/2) factor - 1/2.
  const Point corner = Point(cut.x - 0.5, cut.y - 0.5) + 0.5 * factor;
  const Eigen::Matrix2d linear = a.linear * factor.asDiagonal();
  const Point offset = a.linear * corner + a.offset - Point(0.5, 0.5);
  const cv::Matx23d map(linear(0, 0), linear(0, 1), offset.x(), linear(1, 0), linear(1, 1),
                        offset.y());
  cv::Mat shown;
  cv::warpAffine(reduced, shown, map, size, cv::INTER_LINEAR, cv::BORDER_CONSTANT,
                 cv::Scalar::all(128));
  return shown;
}

void AddPath(const outline::Polyline& points, std::string& path) {
  for (std::size_t i = 0; i < points.size(); ++i) {
    if (!points[i].allFinite() || points[i].cwiseAbs().maxCoeff() > 1e5) return;
  }
  for (std::size_t i = 0; i < points.size(); ++i) {
    path += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", points[i].x(), points[i].y());
  }
  if (!points.empty()) path += "Z";
}

void AddOutline(const outline::Outline& outline, const View& view, std::string& path) {
  for (outline::Polyline& line : outline::Flatten(outline, 0.3 / view.points_per_cap_height)) {
    for (Point& p : line) p = view.FromStamp(p);
    AddPath(line, path);
  }
}

// The edge of the foil as the thumbnail shows it, thinned to what the eye can tell.
void AddFoilEdge(const measure::ElementMeasurement& element, const View& view, std::string& path) {
  for (const outline::Polyline& edge : element.foil_edge_px) {
    std::vector<cv::Point2f> points;
    for (const Point& p : edge) {
      const Point shown = view.FromPhoto(p);
      points.emplace_back(static_cast<float>(shown.x()), static_cast<float>(shown.y()));
    }
    if (points.size() < 3) continue;
    const cv::Rect2f box = cv::boundingRect(points);
    if (std::max(box.width, box.height) < kSpeck) continue;
    std::vector<cv::Point2f> thinned;
    cv::approxPolyDP(points, thinned, 0.35, true);
    outline::Polyline line;
    for (const cv::Point2f& p : thinned) line.emplace_back(p.x, p.y);
    AddPath(line, path);
  }
}

// Elements that a departure is about: by their id or by that of their line.
std::set<std::string> Departing(const compare::Comparison& c) {
  std::set<std::string> ids;
  const auto add = [&](const std::string& measure, const std::vector<std::string>& elements) {
    const auto shown = ElementsShown(c.reference, measure, elements);
    ids.insert(shown.begin(), shown.end());
  };
  for (const auto& f : c.features) {
    if (f.departs) add(f.measure, f.elements);
  }
  if (c.finding == compare::Finding::kDeparts) {
    for (const auto& r : c.reasons) add(r.measure, r.elements);
  }
  return ids;
}

// A path with a light line beneath, so that it shows on any leather.
std::string Drawn(const std::string& path, const char* colour, double width, bool dashed) {
  if (path.empty()) return "";
  const std::string shape =
      fmt::format(R"(<path d="{}" fill="none" stroke-linejoin="round")", path);
  return fmt::format(R"({} stroke="#fff" stroke-opacity=".7" stroke-width="{:.1f}"/>)", shape,
                     width + 0.8) +
         fmt::format(R"({} stroke="{}" stroke-width="{:.1f}"{}/>)", shape, colour, width,
                     dashed ? R"( stroke-dasharray="3 1.5")" : "");
}

std::string Svg(const image::Photo& photo, const View& view, const std::string& lines) {
  const std::string jpeg = image::EncodeJpeg(Shown(photo.bgr, view), kJpegQuality);
  const int w = cvRound(view.panel.width), h = cvRound(view.panel.height);
  return fmt::format(
      R"(<svg xmlns="http://www.w3.org/2000/svg" width="{0}" height="{1}" viewBox="0 0 {0} {1}">)"
      R"(<image width="{0}" height="{1}" href="data:image/jpeg;base64,{2}"/>{3}</svg>)"
      "\n",
      w, h, Base64(jpeg), lines);
}

}  // namespace

std::string ThumbnailSvg(const image::Photo& photo) {
  const double aspect = double(photo.bgr.rows) / photo.bgr.cols;
  const double height = std::clamp(kWidth * aspect, kLeastHeight, kMostHeight);
  return Svg(photo, ViewOfPhoto(photo.bgr.cols, photo.bgr.rows, {0, 0, kWidth, height}), "");
}

std::string ThumbnailSvg(const image::Photo& photo, const compare::Comparison& c) {
  const std::optional<Box> lettering = LetteringBox(c);
  if (!lettering) return ThumbnailSvg(photo);
  const fit::Placement& placement = c.measured.placement;
  const Box box = Grown(*lettering, 0.35);
  const double height =
      std::clamp(kWidth * AspectInView(placement, box), kLeastHeight, kMostHeight);
  const View view = ViewOfStamp(placement, box, {0, 0, kWidth, std::round(height)});
  if (view.placement == nullptr) return ThumbnailSvg(photo);
  const std::set<std::string> departing = Departing(c);
  std::string reference, found;
  for (std::size_t i = 0; i < c.reference.elements.size(); ++i) {
    const bool read = i < c.measured.elements.size() && c.measured.elements[i].read;
    if (!read) AddOutline(c.reference.elements[i].outline, view, reference);
  }
  AddOutline(outline::FrameOutline(c.reference.frame), view, reference);
  for (const auto& e : c.measured.elements) {
    if ((!e.found && !e.read) || !departing.contains(e.id)) continue;
    if (e.foil_edge_px.empty()) {
      AddOutline(e.outline, view, found);
    } else {
      AddFoilEdge(e, view, found);
    }
  }
  // Okabe and Ito's blue and vermillion, as in the report (palette.h).
  return Svg(photo, view,
             Drawn(found, "#d55e00", 1.4, false) + Drawn(reference, "#0072b2", 0.7, true));
}

}  // namespace debossier::report
