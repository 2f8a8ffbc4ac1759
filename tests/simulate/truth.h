// What is true of a simulated photograph, and its JSON.
//
// Boxes are of the die, without gain, in cap heights; quads are the same boxes carried into the
// photo by the exact camera (bent panel and smooth stretch included).
// Not for: real photographs. The file says "simulated": true and has a format name of its own.
#pragma once

#include <Eigen/Core>
#include <array>
#include <cstdint>
#include <string>
#include <vector>

#include "outline/lettering.h"
#include "simulate/camera.h"
#include "simulate/levels.h"
#include "simulate/materials.h"

namespace debossier::simulate {

using Quad = std::array<Point, 4>;  ///< Lower left, lower right, upper right, upper left.

/// A change made to the die before it was pressed.
struct Departure {
  std::string name;     ///< As debossier-simulate lists them.
  std::string element;  ///< Element or line concerned; empty for the whole.
  double amount = 0;    ///< In the departure's own unit; see departures.h.
};

struct ElementTruth {
  std::string id;
  std::string line;
  std::string character;
  Box box;
  Quad quad_px;
};

struct Truth {
  std::uint64_t seed = 0;
  Level level = Level::kTypical;
  Leather leather = Leather::kPebbled;
  std::string leather_colour;
  Finish finish = Finish::kGold;
  int width = 0;
  int height = 0;
  /// Homography of a point of the die moved by the smooth stretch; see Camera.
  Eigen::Matrix3d photo_from_stamp = Eigen::Matrix3d::Identity();
  Eigen::Matrix2d leather_from_stamp = Eigen::Matrix2d::Identity();
  Stretch stretch;
  double gain = 0;  ///< Mean outward growth of the edges, cap heights.
  Amounts amounts;
  std::vector<Departure> departures;
  std::vector<outline::Line> lines;
  std::vector<ElementTruth> elements;
  outline::Frame frame;
  Quad frame_quad_px;  ///< The frame's outer box; unused without a frame.
};

/// The truth as indented JSON, keys in a fixed order.
std::string TruthJson(const Truth& truth);

}  // namespace debossier::simulate
