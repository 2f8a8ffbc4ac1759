#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "layout/components.h"
#include "measure/measure_photo.h"

namespace debossier::measure {

namespace {

/// Share of the rule's length on which foil stands within `reach` of its middle.
double SeenShare(const fit::EdgeReader& reader, const outline::Frame& frame, double reach) {
  outline::Frame middle = frame;
  middle.line_weight = 0.01;
  const auto edges = fit::ModelEdges(outline::FrameOutline(middle), 0.06);
  double seen = 0;
  double total = 0;
  for (const auto& e : edges) {
    double most = 0;
    for (double t = -reach; t <= reach + 1e-9; t += 0.02) {
      most = std::max(most, reader.CoverageAt(e.point + t * e.normal, 0));
    }
    seen += e.length * (most > 0.5);
    total += e.length;
  }
  return total > 0 ? seen / total : 0;
}

/// A hollow component around the letters of a line that the reference draws without a frame.
outline::Frame FindUnexpectedFrame(const outline::Lettering& reference,
                                   const fit::PlaceReport& placed) {
  outline::Frame best;
  const cv::Mat mask = placed.coverage.alpha > 0.5f;
  cv::Mat closed;
  cv::morphologyEx(mask, closed, cv::MORPH_CLOSE, cv::Mat::ones(3, 3, CV_8U));
  layout::ComponentOptions options;
  options.min_area = 40;
  const auto components = layout::FindComponents(closed, options, nullptr);
  for (std::size_t l = 0; l < reference.lines.size(); ++l) {
    outline::Box line;
    for (const auto& e : reference.elements) {
      if (e.line_idx == static_cast<int>(l)) line.Add(outline::Bounds(e.outline));
    }
    if (line.empty()) continue;
    for (const auto& c : components) {
      if (c.area > 0.4 * c.box.area()) continue;
      // The component's box corners in the stamp frame.
      outline::Box box;
      for (const int x : {c.box.x, c.box.x + c.box.width - 1}) {
        for (const int y : {c.box.y, c.box.y + c.box.height - 1}) {
          box.Add(placed.map_from_stamp.ToStamp({static_cast<double>(x), static_cast<double>(y)}));
        }
      }
      const bool around = box.min.x() < line.min.x() && box.max.x() > line.max.x() &&
                          box.min.y() < line.min.y() && box.max.y() > line.max.y();
      if (!around) continue;
      const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
      outline::Frame frame;
      frame.centre = box.centre();
      frame.line_idx = static_cast<int>(l);
      const double weight = 0.06;
      frame.line_weight = weight;
      frame.radius = {box.width() / 2 - weight / 2, box.height() / 2 - weight / 2};
      double most = 0;
      for (const auto kind : {outline::FrameKind::kEllipse, outline::FrameKind::kRectangle}) {
        frame.kind = kind;
        const double seen = SeenShare(reader, frame, 0.12);
        if (seen > most) {
          most = seen;
          if (seen > 0.7) best = frame;
        }
      }
    }
  }
  return best;
}

double Clearance(const outline::Lettering& reference, const fit::PlaceReport& placed,
                 const outline::Frame& frame) {
  double least = 1e9;
  for (std::size_t i = 0; i < reference.elements.size(); ++i) {
    const auto& e = reference.elements[i];
    if (frame.line_idx >= 0 && e.line_idx != frame.line_idx) continue;
    if (e.kind == outline::ElementKind::kMark || !placed.elements[i].found) continue;
    for (const auto& edge : placed.elements[i].edges) {
      const Point d = fit::MovePoint(placed.elements[i], edge.point) - frame.centre;
      double distance = 0;
      if (frame.kind == outline::FrameKind::kEllipse) {
        // Along the ray from the centre: exact on the axes, a close bound elsewhere.
        const double k = std::hypot(d.x() / frame.radius.x(), d.y() / frame.radius.y());
        distance = k > 1e-9 ? d.norm() * (1 / k - 1) : frame.radius.minCoeff();
      } else {
        distance = std::min(frame.radius.x() - std::abs(d.x()), frame.radius.y() - std::abs(d.y()));
      }
      least = std::min(least, distance - frame.line_weight / 2);
    }
  }
  return least < 1e8 ? least : 0;
}

}  // namespace

FrameMeasurement MeasureFrame(const outline::Lettering& reference, const fit::PlaceReport& placed,
                              const LineFit& wordmark) {
  FrameMeasurement m;
  const bool expected = reference.frame.kind != outline::FrameKind::kNone;
  outline::Frame frame = reference.frame;
  if (!expected) {
    frame = FindUnexpectedFrame(reference, placed);
    m.decided = true;
    if (frame.kind == outline::FrameKind::kNone) return m;
  }
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  fit::ElementOptions options;
  options.step = 0.05;
  options.gain_sd = 0.05;
  options.window = 0.12;
  const auto fit =
      fit::FitElement(reader, outline::FrameOutline(frame), fit::ElementVector::Zero(), options);
  m.seen = SeenShare(reader, frame, 0.12);
  if (!fit.found || m.seen < 0.4) {
    // Next to nothing seen: no frame. In between: worn, or another frame; not told.
    m.decided = m.seen < 0.3;
    return m;
  }
  m.decided = true;
  m.kind = frame.kind;
  const double size = 1 + wordmark.value[kLineSize];
  outline::Frame found = frame;
  found.centre += Point(fit.value[fit::kShiftX], fit.value[fit::kShiftY]);
  found.radius.x() *= std::exp(fit.value[fit::kLogScaleX]);
  found.radius.y() *= std::exp(fit.value[fit::kLogScaleY]);
  found.line_weight += 2 * fit.value[fit::kOwnGain];
  const auto u = [&](int k) { return std::sqrt(fit.covariance(k, k)); };
  m.half_width = {found.radius.x() / size, found.radius.x() * u(fit::kLogScaleX)};
  m.half_height = {found.radius.y() / size, found.radius.y() * u(fit::kLogScaleY)};
  m.line_weight = {found.line_weight / size, 2 * u(fit::kOwnGain)};
  m.clearance = {Clearance(reference, placed, found) / size,
                 Combine(u(fit::kShiftY), found.radius.y() * u(fit::kLogScaleY))};
  return m;
}

}  // namespace debossier::measure
