#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

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

/// Distances along a ray at which it crosses a thin stroke of foil: what a rule may be.
void AddThinRuns(const fit::EdgeReader& reader, const Point& from, const Point& direction,
                 std::vector<double>& runs) {
  constexpr double kStep = 0.01;
  constexpr double kFarthest = 1.4;
  constexpr double kThickest = 0.2;
  double start = -1;
  for (double t = 0.04; t < kFarthest; t += kStep) {
    const bool on = reader.CoverageAt(from + t * direction, 0) > 0.5;
    if (on && start < 0) start = t;
    if (!on && start >= 0) {
      if (t - start < kThickest) runs.push_back(0.5 * (start + t) - 0.5 * kStep);
      start = -1;
    }
  }
}

/// The same over five neighbouring rays, near ones as one, at most `kMost`.
std::vector<double> RulesAlong(const fit::EdgeReader& reader, const Point& from,
                               const Point& direction) {
  constexpr double kApart = 0.08;
  constexpr std::size_t kMost = 4;
  const Point across(-direction.y(), direction.x());
  std::vector<double> runs;
  for (const double shift : {0.0, -kApart, kApart, -2 * kApart, 2 * kApart}) {
    AddThinRuns(reader, from + shift * across, direction, runs);
  }
  std::sort(runs.begin(), runs.end());
  std::vector<double> apart;
  for (const double t : runs) {
    if (apart.empty() || t > apart.back() + 0.04) apart.push_back(t);
  }
  if (apart.size() > kMost) apart.resize(kMost);
  return apart;
}

/// Length of a rule and how much of it has foil on it.
struct RuleLength {
  double seen = 0;
  double total = 0;
  double Share() const { return total > 0 ? seen / total : 0; }
};

/// Share of a rule's length with foil on it, less where foil lies on both of its sides too: a
/// surface or a row of letters is no rule. 0 for a rectangle that lacks an upright side: two rules
/// above and below a line are no frame.
double RuleShare(const fit::EdgeReader& reader, const outline::Frame& frame) {
  constexpr double kReach = 0.05;
  constexpr double kBeside = 0.14;
  constexpr double kLeastOfSide = 0.4;
  outline::Frame middle = frame;
  middle.line_weight = 0.01;
  RuleLength whole;
  std::array<RuleLength, 2> uprights;  // left, right
  for (const auto& e : fit::ModelEdges(outline::FrameOutline(middle), 0.12)) {
    double most = 0;
    for (double t = -kReach; t <= kReach + 1e-9; t += 0.025) {
      most = std::max(most, reader.CoverageAt(e.point + t * e.normal, 0));
    }
    const bool beside = reader.CoverageAt(e.point + kBeside * e.normal, 0) > 0.5 &&
                        reader.CoverageAt(e.point - kBeside * e.normal, 0) > 0.5;
    const double seen = most > 0.5 && !beside ? e.length : 0;
    whole.total += e.length;
    whole.seen += seen;
    const double off = e.point.x() - frame.centre.x();
    if (std::abs(std::abs(off) - frame.radius.x()) > 0.5 * middle.line_weight + 1e-9) continue;
    uprights[off > 0].total += e.length;
    uprights[off > 0].seen += seen;
  }
  const bool closed = uprights[0].Share() > kLeastOfSide && uprights[1].Share() > kLeastOfSide;
  return frame.kind == outline::FrameKind::kRectangle && !closed ? 0 : whole.Share();
}

/// Distances from the sides of a line's box to the rules beyond them.
struct RulesAbout {
  std::vector<double> left, right, below, above;
};

RulesAbout FindRulesAbout(const fit::EdgeReader& reader, const outline::Box& line) {
  const Point middle = line.centre();
  RulesAbout rules{RulesAlong(reader, {line.min.x(), middle.y()}, {-1, 0}),
                   RulesAlong(reader, {line.max.x(), middle.y()}, {1, 0}),
                   RulesAlong(reader, {middle.x(), line.min.y()}, {0, -1}),
                   RulesAlong(reader, {middle.x(), line.max.y()}, {0, 1})};
  // A side that is worn where the rays pass lies about as far off as the one across.
  if (rules.left.empty()) rules.left = rules.right;
  if (rules.right.empty()) rules.right = rules.left;
  if (rules.below.empty()) rules.below = rules.above;
  if (rules.above.empty()) rules.above = rules.below;
  return rules;
}

/// The ellipses and rectangles that rules about a line may be parts of.
std::vector<outline::Frame> FramesThrough(const RulesAbout& rules, const outline::Box& line,
                                          int line_idx) {
  const Point middle = line.centre();
  const Point half(line.width() / 2, line.height() / 2);
  std::vector<outline::Frame> frames;
  outline::Frame frame;
  frame.line_idx = line_idx;
  frame.line_weight = 0.06;
  // An ellipse is symmetric about the line: either side of each axis is enough.
  frame.kind = outline::FrameKind::kEllipse;
  frame.centre = middle;
  std::vector<double> across = rules.left;
  across.insert(across.end(), rules.right.begin(), rules.right.end());
  std::vector<double> up = rules.below;
  up.insert(up.end(), rules.above.begin(), rules.above.end());
  for (const double x : across) {
    for (const double y : up) {
      frame.radius = half + Point(x, y);
      const bool around =
          std::hypot(half.x() / frame.radius.x(), half.y() / frame.radius.y()) < 1.03;
      if (around) frames.push_back(frame);
    }
  }
  frame.kind = outline::FrameKind::kRectangle;
  for (const double x0 : rules.left) {
    for (const double x1 : rules.right) {
      if (std::abs(x0 - x1) > 0.3) continue;
      for (const double y0 : rules.below) {
        for (const double y1 : rules.above) {
          if (std::abs(y0 - y1) > 0.3) continue;
          frame.centre = middle + 0.5 * Point(x1 - x0, y1 - y0);
          frame.radius = half + 0.5 * Point(x0 + x1, y0 + y1);
          frames.push_back(frame);
        }
      }
    }
  }
  return frames;
}

/// A rule around a line that the reference draws without a frame. The rays from the middles of the
/// line's box say where its four sides may lie; a rule that touches other lettering is found too.
outline::Frame FindUnexpectedFrame(const outline::Lettering& reference,
                                   const fit::PlaceReport& placed) {
  constexpr double kLeastSeen = 0.7;
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  outline::Frame best;
  double best_share = kLeastSeen;
  for (std::size_t l = 0; l < reference.lines.size(); ++l) {
    outline::Box line;
    for (const auto& e : reference.elements) {
      const bool letter = e.kind == outline::ElementKind::kLetter;
      if (letter && e.line_idx == static_cast<int>(l)) line.Add(outline::Bounds(e.outline));
    }
    if (line.empty()) continue;
    const RulesAbout rules = FindRulesAbout(reader, line);
    for (const outline::Frame& frame : FramesThrough(rules, line, static_cast<int>(l))) {
      const double share = RuleShare(reader, frame);
      if (share <= best_share) continue;
      best_share = share;
      best = frame;
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

/// The frame where the photo has it, and how it was fitted.
struct FittedFrame {
  outline::Frame frame;
  fit::ElementFit fit;
};

/// `rendered`: a rendering that holds the frame as it starts; an empty one where it does not.
FittedFrame FitFrame(const fit::EdgeReader& reader, const fit::RenderedReference& rendered,
                     const outline::Frame& start) {
  fit::ElementOptions options;
  options.step = 0.05;
  options.gain_sd = 0.05;
  options.window = 0.12;
  FittedFrame out;
  out.frame = start;
  const fit::ElementVector unmoved = fit::ElementVector::Zero();
  const fit::SampledOutline sampled(outline::FrameOutline(start), options.step);
  out.fit = fit::FitElement(reader, sampled, unmoved, options,
                            fit::ReadReference(rendered, sampled, unmoved, options));
  out.frame.centre += Point(out.fit.value[fit::kShiftX], out.fit.value[fit::kShiftY]);
  out.frame.radius.x() *= std::exp(out.fit.value[fit::kLogScaleX]);
  out.frame.radius.y() *= std::exp(out.fit.value[fit::kLogScaleY]);
  out.frame.line_weight += 2 * out.fit.value[fit::kOwnGain];
  return out;
}

}  // namespace

outline::Frame FindFrame(const outline::Lettering& reference, const fit::PlaceReport& placed) {
  outline::Frame rough = FindUnexpectedFrame(reference, placed);
  if (rough.kind == outline::FrameKind::kNone) return rough;
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  FittedFrame fitted = FitFrame(reader, {}, rough);
  return fitted.fit.found ? fitted.frame : rough;
}

FrameMeasurement MeasureFrame(const outline::Lettering& reference, const fit::PlaceReport& placed,
                              const LineFit& wordmark) {
  constexpr double kLeastCapPx = 25;  // below it grain passes for a rule and a rule for grain
  constexpr double kSurelyNot = 0.3;  // of the rule's length
  constexpr double kSurely = 0.4;
  FrameMeasurement m;
  const fit::EdgeReader reader(placed.coverage.alpha, placed.map_from_stamp);
  const bool small =
      placed.photo_from_stamp.ScaleAt(outline::Bounds(reference).centre()) < kLeastCapPx;
  outline::Frame frame = reference.frame;
  fit::RenderedReference rendered = placed.rendered;
  m.seen = frame.kind == outline::FrameKind::kNone ? 0 : SeenShare(reader, frame, 0.12);
  if (m.seen < kSurelyNot) {
    // None, or another than the reference's.
    frame = FindUnexpectedFrame(reference, placed);
    rendered = {};
    m.decided = !small;
    if (small || frame.kind == outline::FrameKind::kNone) return m;
    m.seen = SeenShare(reader, frame, 0.12);
  }
  const auto fitted = FitFrame(reader, rendered, frame);
  const outline::Frame& found = fitted.frame;
  const fit::ElementFit& fit = fitted.fit;
  // In between: worn, or another frame; not told.
  m.decided = fit.found && m.seen >= kSurely;
  if (!m.decided) return m;
  m.kind = frame.kind;
  m.found = found;
  const double size = 1 + wordmark.value[kLineSize];
  const auto u = [&](int k) { return std::sqrt(fit.covariance(k, k)); };
  // A frame's long edges are sure; what its size is measured by, the wordmark, is less so.
  const auto by = [&](int k) {
    return wordmark.found ? std::sqrt(wordmark.covariance(k, k)) : 0.0;
  };
  const double u_width = Combine(u(fit::kLogScaleX), by(kLineSpread));
  const double u_height = Combine(u(fit::kLogScaleY), by(kLineSize));
  m.half_width = {found.radius.x() / size, found.radius.x() * u_width};
  m.half_height = {found.radius.y() / size, found.radius.y() * u_height};
  m.line_weight = {found.line_weight / size, 2 * u(fit::kOwnGain)};
  m.clearance = {Clearance(reference, placed, found) / size,
                 Combine(u(fit::kShiftY), found.radius.y() * u_height)};
  return m;
}

}  // namespace debossier::measure
