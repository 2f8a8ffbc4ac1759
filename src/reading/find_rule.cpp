#include "reading/find_rule.h"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <vector>

#include "base/quantile.h"
#include "separate/raster.h"

namespace debossier::reading {

namespace {

using outline::Frame;
using outline::FrameKind;
using outline::Point;

/// A point of the rule's middle and its outward normal, at `turn` of the way round.
struct RulePoint {
  Point point;
  Point normal;
  double speed = 1;  ///< Length a turn, up to a factor.
};

RulePoint At(const Frame& frame, double turn) {
  const Point r = frame.radius;
  if (frame.kind == FrameKind::kEllipse) {
    const double angle = 2 * CV_PI * turn;
    const Point unit(std::cos(angle), std::sin(angle));
    return {frame.centre + unit.cwiseProduct(r), unit.cwiseQuotient(r).normalized(),
            std::hypot(r.x() * unit.y(), r.y() * unit.x())};
  }
  // Sides in the order right, bottom, left, top, each as long as it is.
  const double round = 4 * (r.x() + r.y());
  double at = turn * round;
  const Point corners[4] = {{1, -1}, {1, 1}, {-1, 1}, {-1, -1}};
  const Point steps[4] = {{0, 1}, {-1, 0}, {0, -1}, {1, 0}};
  const Point normals[4] = {{1, 0}, {0, 1}, {-1, 0}, {0, -1}};
  for (int side = 0; side < 4; ++side) {
    const double length = side % 2 == 0 ? 2 * r.y() : 2 * r.x();
    if (at <= length || side == 3) {
      return {frame.centre + corners[side].cwiseProduct(r) + at * steps[side], normals[side], 1};
    }
    at -= length;
  }
  return {frame.centre, {1, 0}, 1};
}

/// Middles of strokes, and how far each pixel is from one.
struct Strokes {
  cv::Mat half_width;  ///< CV_32F: distance to ground within the mask.
  cv::Mat to_middle;   ///< CV_32F: distance to the middle of a thin stroke.
  std::vector<Point> middles;
};

Strokes MiddlesOfStrokes(const cv::Mat& mask) {
  Strokes out;
  cv::distanceTransform(mask, out.half_width, cv::DIST_L2, 5);
  cv::Mat highest;
  cv::dilate(out.half_width, highest, cv::Mat::ones(3, 3, CV_8U));
  cv::Mat middle = (out.half_width >= highest - 0.01F) & (mask != 0);
  for (int y = 0; y < middle.rows; ++y) {
    for (int x = 0; x < middle.cols; ++x) {
      if (middle.at<unsigned char>(y, x) != 0) out.middles.emplace_back(x, y);
    }
  }
  cv::distanceTransform(middle == 0, out.to_middle, cv::DIST_L2, 5);
  return out;
}

class RuleFinder {
 public:
  RuleFinder(const cv::Mat& mask, FrameKind kind)
      : mask_(mask), kind_(kind), strokes_(MiddlesOfStrokes(mask)) {}

  std::optional<Rule> Find() {
    constexpr int kSamples = 12000;
    constexpr double kLeastSeen = 0.45;
    if (strokes_.middles.size() < 50) return {};
    cv::RNG random(20);
    Rule best;
    for (int k = 0; k < kSamples; ++k) {
      std::array<Point, 4> sample;
      for (Point& p : sample) {
        p = strokes_.middles[random.uniform(0, static_cast<int>(strokes_.middles.size()))];
      }
      const std::optional<Frame> frame = Through(sample);
      if (!frame) continue;
      // Most samples show on a few points that they are no rule.
      if (SeenShare(*frame, 16) < 0.35) continue;
      const double seen = SeenShare(*frame, 160);
      if (seen <= best.seen) continue;
      best.seen = seen;
      best.frame = *frame;
    }
    if (best.seen < kLeastSeen) return {};
    for (int round = 0; round < 3; ++round) Refine(best);
    return best;
  }

 private:
  std::optional<Frame> Through(const std::array<Point, 4>& sample) const {
    Frame frame;
    frame.kind = kind_;
    if (kind_ == FrameKind::kEllipse) {
      // a x^2 + b y^2 + c x + d y = 1, about the mask's middle.
      const Point middle(mask_.cols / 2.0, mask_.rows / 2.0);
      const double unit = mask_.cols / 2.0;
      Eigen::Matrix4d rows;
      for (int i = 0; i < 4; ++i) {
        const Point p = (sample[static_cast<std::size_t>(i)] - middle) / unit;
        rows.row(i) << p.x() * p.x(), p.y() * p.y(), p.x(), p.y();
      }
      const Eigen::Vector4d k = rows.partialPivLu().solve(Eigen::Vector4d::Ones());
      if (!k.allFinite() || !(k[0] * k[1] > 0)) return {};
      const Point centre(-k[2] / (2 * k[0]), -k[3] / (2 * k[1]));
      const double level = 1 + k[0] * centre.x() * centre.x() + k[1] * centre.y() * centre.y();
      if (!(level / k[0] > 0) || !(level / k[1] > 0)) return {};
      frame.centre = middle + unit * centre;
      frame.radius = unit * Point(std::sqrt(level / k[0]), std::sqrt(level / k[1]));
    } else {
      outline::Box box;
      for (const Point& p : sample) box.Add(p);
      frame.centre = box.centre();
      frame.radius = 0.5 * Point(box.width(), box.height());
    }
    const Point r = frame.radius;
    constexpr double kLeastHigh = 12;  // px
    const bool plausible = r.x() < 0.6 * mask_.cols && r.y() < 0.6 * mask_.rows &&
                           r.y() > kLeastHigh && r.x() > r.y() && r.x() < 16 * r.y();
    return plausible ? std::optional(frame) : std::nullopt;
  }

  /// Share of the rule on the middle of a stroke that has ground on both sides.
  double SeenShare(const Frame& frame, int points) const {
    constexpr float kOnMiddle = 1.6F;  // px
    const auto set = [&](const Point& p, float* value, const cv::Mat& map) {
      const int x = cvRound(p.x());
      const int y = cvRound(p.y());
      if (x < 0 || y < 0 || x >= map.cols || y >= map.rows) return false;
      *value = map.at<float>(y, x);
      return true;
    };
    const double beside = std::max(4.0, 0.2 * frame.radius.y());
    double seen = 0;
    double total = 0;
    for (int k = 0; k < points; ++k) {
      const RulePoint at = At(frame, (k + 0.5) / points);
      total += at.speed;
      float distance = 0;
      if (!set(at.point, &distance, strokes_.to_middle) || distance > kOnMiddle) continue;
      float width = 0;
      float inner = 0;
      float outer = 0;
      set(at.point, &width, strokes_.half_width);
      const bool in = set(at.point - beside * at.normal, &inner, strokes_.half_width);
      const bool out = set(at.point + beside * at.normal, &outer, strokes_.half_width);
      if (width > 0.6 * beside || (in && inner > 0 && out && outer > 0)) continue;
      seen += at.speed;
    }
    return total > 0 ? seen / total : 0;
  }

  /// Least squares on the middles of strokes near the rule.
  void Refine(Rule& rule) const {
    constexpr int kPoints = 400;
    Frame& frame = rule.frame;
    const double reach = std::max(3.0, 0.06 * frame.radius.y());
    Eigen::Matrix4d normal = Eigen::Matrix4d::Identity() * 1e-6;
    Eigen::Vector4d right = Eigen::Vector4d::Zero();
    std::vector<double> weights;
    for (int k = 0; k < kPoints; ++k) {
      const RulePoint at = At(frame, (k + 0.5) / kPoints);
      double best = 1e9;
      double off = 0;
      double half = 0;
      for (double t = -reach; t <= reach; t += 0.5) {
        const Point p = at.point + t * at.normal;
        const int x = cvRound(p.x());
        const int y = cvRound(p.y());
        if (x < 0 || y < 0 || x >= mask_.cols || y >= mask_.rows) continue;
        if (strokes_.to_middle.at<float>(y, x) > 0.8F || std::abs(t) >= best) continue;
        best = std::abs(t);
        off = t;
        half = strokes_.half_width.at<float>(y, x);
      }
      if (best > reach) continue;
      weights.push_back(2 * half - 1);
      // d(distance along the normal) by centre and radii.
      const Point unit = (at.point - frame.centre).cwiseQuotient(frame.radius);
      Eigen::Vector4d row;
      row << at.normal.x(), at.normal.y(), at.normal.x() * unit.x(), at.normal.y() * unit.y();
      const double w = 1 / (1 + off * off);
      normal += w * row * row.transpose();
      right += w * off * row;
    }
    const Eigen::Vector4d step = normal.ldlt().solve(right);
    if (step.allFinite()) {
      Rule moved = rule;
      moved.frame.centre += step.head<2>();
      moved.frame.radius += step.tail<2>();
      moved.seen = SeenShare(moved.frame, 160);
      if (moved.seen >= rule.seen) rule = moved;
    }
    if (!weights.empty()) rule.frame.line_weight = std::max(1.0, UpperMedian(weights));
  }

  const cv::Mat& mask_;
  FrameKind kind_;
  Strokes strokes_;
};

}  // namespace

std::optional<Rule> FindRule(const cv::Mat& mask, FrameKind kind) {
  if (mask.empty() || kind == FrameKind::kNone) return {};
  return RuleFinder(mask, kind).Find();
}

cv::Mat RulePixels(const Frame& frame, double margin, const cv::Size& size) {
  Frame wide = frame;
  wide.line_weight += 2 * margin;
  cv::Mat pixels = cv::Mat::zeros(size, CV_8U);
  separate::FillPolygons(outline::Flatten(outline::FrameOutline(wide), 0.2), pixels);
  return pixels;
}

}  // namespace debossier::reading
