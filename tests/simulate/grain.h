// Relief of unpressed leather: pebbled, smooth and cross-grained, or taken from a picture.
//
// Frame: a field's cells; heights in mm, mean 0.
// Not for: colour; see Mottling for the part of it that is not relief.
#pragma once

#include "base/result.h"
#include "simulate/field.h"
#include "simulate/levels.h"
#include "simulate/materials.h"

namespace debossier::simulate {

/// Grain of `kind` at `cells_per_mm`, with the size and depth that `amounts` asks for.
Field GrainRelief(Leather kind, cv::Size size, double cells_per_mm, const Amounts& amounts,
                  Random random);

/// A picture used as surface in place of a made grain.
struct SurfacePicture {
  cv::Mat bgr;                ///< CV_8UC3.
  bool is_normal_map = true;  ///< Red, green, blue are x, y, z of the normal; else a photograph.
  double width_mm = 15;       ///< What the picture's width stands for on the leather.
};

/// Relief from a normal map (integrated by Frankot and Chellappa, IEEE PAMI 10, 1988) or, from a
/// photograph, its brightness; repeated by mirroring. Standard deviation as a pebbled grain's.
Result<Field> ReliefFromPicture(const SurfacePicture& picture, cv::Size size, double cells_per_mm,
                                const Amounts& amounts);

/// Factor on the leather's reflectance, mean about 1: large soft blotches and fine fibre.
Field Mottling(cv::Size size, double cells_per_mm, const Amounts& amounts, Random random);

}  // namespace debossier::simulate
