#include "compare/pose_design.h"

#include <algorithm>

namespace debossier::compare {

using measure::kAcross;
using measure::kAlong;
using measure::kLogHeight;
using measure::kLogWidth;
using measure::kShear;

PoseFrame FrameOf(const outline::Lettering& lettering) {
  constexpr double kLeast = 0.01;  // a hairline has a thickness
  PoseFrame frame;
  outline::Box all;
  for (const auto& e : lettering.elements) all.Add(outline::Bounds(e.outline));
  const outline::Point centre = all.centre();
  frame.half_length = std::max(0.5, all.width() / 2);
  std::vector<outline::Box> lines(lettering.lines.size());
  for (const auto& e : lettering.elements) {
    const outline::Box box = outline::Bounds(e.outline);
    const bool mark = e.kind == outline::ElementKind::kMark;
    frame.elements.push_back({box.centre() - centre, std::max(kLeast, box.width()),
                              std::max(kLeast, box.height()), e.line_idx, mark});
    if (!mark) lines[static_cast<std::size_t>(e.line_idx)].Add(box);
  }
  for (const auto& box : lines) {
    frame.line_centres.push_back(box.empty() ? outline::Point(0, 0)
                                             : outline::Point(box.centre() - centre));
  }
  return frame;
}

const char* NameOf(EffectKind kind) {
  switch (kind) {
    case EffectKind::kFlat:
      return "free";
    case EffectKind::kPerspectiveAlong:
      return "perspective-along";
    case EffectKind::kStretchAlong:
      return "stretch-along";
    case EffectKind::kStretchAcross:
      return "stretch-across";
    case EffectKind::kGainWidth:
      return "gain-width";
    case EffectKind::kGainHeight:
      return "gain-height";
    case EffectKind::kOriginGainWidth:
      return "later-gain-width";
    case EffectKind::kOriginGainHeight:
      return "later-gain-height";
    case EffectKind::kLineWidth:
      return "line-width";
    case EffectKind::kLineHeight:
      return "line-height";
    case EffectKind::kLineAlong:
      return "line-along";
    case EffectKind::kLineAcross:
      return "line-across";
  }
  return "";
}

EffectSpread UsualSpread(EffectKind kind) {
  switch (kind) {
    case EffectKind::kFlat:
      return {0, 0};
    case EffectKind::kPerspectiveAlong:
      return {0.00013, 0.0001};
    case EffectKind::kStretchAlong:
    case EffectKind::kStretchAcross:
      return {0.0025, 0.0012};
    case EffectKind::kGainWidth:
      return {0.003, 0.0015};
    case EffectKind::kGainHeight:
      return {0.008, 0.004};
    case EffectKind::kOriginGainWidth:
      return {0.002, 0.001};
    case EffectKind::kOriginGainHeight:
      return {0.004, 0.002};
    case EffectKind::kLineWidth:
      return {0.003, 0.0015};
    case EffectKind::kLineHeight:
      return {0.006, 0.003};
    case EffectKind::kLineAlong:
      return {0.004, 0.002};
    case EffectKind::kLineAcross:
      return {0.0023, 0.0015};
  }
  return {};
}

namespace {

/// Writes columns one after the other; a column is a function of the element.
class ColumnWriter {
 public:
  explicit ColumnWriter(const PoseFrame& frame) : frame_(frame) {
    columns.rows.assign(frame.elements.size(), BlockRows::Zero(kPoseValues, kMost));
  }
  template <class Rows>
  void Add(EffectKind kind, const Rows& rows) {
    const auto k = static_cast<Eigen::Index>(columns.kinds.size());
    columns.kinds.push_back(kind);
    for (std::size_t j = 0; j < frame_.elements.size(); ++j) {
      if (k >= columns.rows[j].cols()) {
        columns.rows[j].conservativeResize(Eigen::NoChange, 2 * k);
      }
      columns.rows[j].col(k) = rows(frame_.elements[j]);
    }
  }
  PoseColumns Take() {
    for (auto& rows : columns.rows) {
      rows.conservativeResize(Eigen::NoChange, static_cast<Eigen::Index>(columns.kinds.size()));
    }
    return std::move(columns);
  }
  PoseColumns columns;

 private:
  static constexpr Eigen::Index kMost = 32;
  const PoseFrame& frame_;
};

PoseVector Rows(double along, double across, double log_width, double log_height, double shear) {
  PoseVector v;
  v << along, across, log_width, log_height, shear;
  return v;
}

void AddCamera(ColumnWriter& out) {
  using E = PoseElement;
  out.Add(EffectKind::kFlat, [](const E&) { return Rows(1, 0, 0, 0, 0); });
  out.Add(EffectKind::kFlat, [](const E& e) { return Rows(e.at.x(), 0, 1, 0, 0); });
  out.Add(EffectKind::kFlat, [](const E& e) { return Rows(e.at.y(), 0, 0, 0, 1); });
  out.Add(EffectKind::kFlat, [](const E&) { return Rows(0, 1, 0, 0, 0); });
  out.Add(EffectKind::kFlat, [](const E& e) { return Rows(0, e.at.x(), 0, 0, 0); });
  out.Add(EffectKind::kFlat, [](const E& e) { return Rows(0, e.at.y(), 0, 1, 0); });
  out.Add(EffectKind::kPerspectiveAlong, [](const E& e) {
    const double x = e.at.x();
    return Rows(x * x, x * e.at.y(), 2 * x, x, 0);
  });
  out.Add(EffectKind::kFlat, [](const E& e) {
    const double y = e.at.y();
    return Rows(e.at.x() * y, y * y, y, 2 * y, e.at.x());
  });
}

/// Legendre polynomials of degree 2 and 3 along the lettering (DLMF 18.5, table 18.5.1).
void AddStretch(double half_length, ColumnWriter& out) {
  const auto p2 = [half_length](const PoseElement& e) {
    const double t = e.at.x() / half_length;
    return Rows(0.5 * (3 * t * t - 1), 0, 3 * t / half_length, 0, 0);
  };
  const auto p3 = [half_length](const PoseElement& e) {
    const double t = e.at.x() / half_length;
    return Rows(0.5 * (5 * t * t * t - 3 * t), 0, 0.5 * (15 * t * t - 3) / half_length, 0, 0);
  };
  const auto across = [](const auto& along) {
    return [along](const PoseElement& e) { return Rows(0, along(e)[kAlong], 0, 0, 0); };
  };
  out.Add(EffectKind::kStretchAlong, p2);
  out.Add(EffectKind::kStretchAlong, p3);
  out.Add(EffectKind::kStretchAcross, across(p2));
  out.Add(EffectKind::kStretchAcross, across(p3));
}

void AddPressing(std::size_t lines, ColumnWriter& out) {
  const auto gain_width = [](const PoseElement& e) { return Rows(0, 0, 1 / e.width, 0, 0); };
  const auto gain_height = [](const PoseElement& e) { return Rows(0, 0, 0, 1 / e.height, 0); };
  out.Add(EffectKind::kGainWidth, gain_width);
  out.Add(EffectKind::kGainHeight, gain_height);
  const auto on_line = [](int line, const auto& rows) {
    return [line, rows](const PoseElement& e) {
      return e.line_idx == line && !e.is_mark ? rows(e) : PoseVector(PoseVector::Zero());
    };
  };
  for (int l = 0; l < static_cast<int>(lines); ++l) {
    out.Add(EffectKind::kLineWidth,
            on_line(l, [](const PoseElement&) { return Rows(0, 0, 1, 0, 0); }));
    out.Add(EffectKind::kLineHeight,
            on_line(l, [](const PoseElement&) { return Rows(0, 0, 0, 1, 0); }));
    if (l == 0) continue;
    out.Add(EffectKind::kOriginGainWidth, on_line(l, gain_width));
    out.Add(EffectKind::kOriginGainHeight, on_line(l, gain_height));
    out.Add(EffectKind::kLineAlong,
            on_line(l, [](const PoseElement&) { return Rows(1, 0, 0, 0, 0); }));
    out.Add(EffectKind::kLineAcross,
            on_line(l, [](const PoseElement&) { return Rows(0, 1, 0, 0, 0); }));
  }
}

}  // namespace

PoseColumns ColumnsOf(const PoseFrame& frame) {
  ColumnWriter out(frame);
  AddCamera(out);
  AddStretch(frame.half_length, out);
  AddPressing(frame.lines(), out);
  return out.Take();
}

}  // namespace debossier::compare
