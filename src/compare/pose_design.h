// What moves all elements of one photo together and is no departure: camera, leather, pressing.
//
// Columns of the linear model of a photo's poses (block_fit.h). Flat ones are left free; effects
// are drawn around 0 with a standard deviation that varies between items (set_model.h).
// Frame: stamp, about the middle of the lettering. Not for: departures (sentences.h).
#pragma once

#include <string>
#include <vector>

#include "compare/block_fit.h"
#include "outline/lettering.h"

namespace debossier::compare {

/// An element as the model needs it.
struct PoseElement {
  outline::Point at{0, 0};  ///< Middle of its box, about the middle of the lettering.
  double width = 0;
  double height = 0;
  int line_idx = 0;
  bool is_mark = false;
};

/// The lettering as the model needs it.
struct PoseFrame {
  std::vector<PoseElement> elements;         ///< In the lettering's order.
  std::vector<outline::Point> line_centres;  ///< Middle of each line's letters, in the same frame.
  double half_length = 1;
  std::size_t lines() const { return line_centres.size(); }
};
PoseFrame FrameOf(const outline::Lettering& lettering);

/// Kinds of effects; each has one standard deviation, whatever the line.
enum class EffectKind {
  kFlat,
  kPerspectiveAlong,
  kStretchAlong,
  kStretchAcross,
  kGainWidth,
  kGainHeight,
  kOriginGainWidth,
  kOriginGainHeight,
  kLineWidth,
  kLineHeight,
  kLineAlong,
  kLineAcross,
};
inline constexpr int kEffectKinds = 12;

/// A stable name: "stretch-along", "line-height"...
const char* NameOf(EffectKind kind);

/// How strongly an effect of a kind varies between photos of one die.
struct EffectSpread {
  double deviation = 0;  ///< Cap heights, or of logarithms, for a column as PoseColumns has it.
  double least = 0;      ///< Items may show less than this, never the model.
};
/// Before any item speaks. From simulated and real photos; see DEVELOPERS.md.
EffectSpread UsualSpread(EffectKind kind);

/// The columns of a lettering: their kinds, and each element's rows in them.
struct PoseColumns {
  std::vector<EffectKind> kinds;
  std::vector<BlockRows> rows;  ///< By element.
};
PoseColumns ColumnsOf(const PoseFrame& frame);

}  // namespace debossier::compare
