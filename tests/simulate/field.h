// Scalar fields over the leather, and the noises that leather grain, wear and ragged edges are
// made of.
//
// Frame: row 0 is the lowest y; lengths in cells unless a name says otherwise.
// Sources: cellular noise after Worley, "A cellular texture basis function", SIGGRAPH 1996.
// Not for: pictures (rows there run downwards).
#pragma once

#include <opencv2/core.hpp>

#include "simulate/random.h"

namespace debossier::simulate {

using Field = cv::Mat1f;

/// Smooth noise, mean 0 and variance 1: normal values on a lattice `cell` cells apart, joined by
/// cubic B-splines. Its autocorrelation falls to 1/e at about 1.15 * cell.
Field SmoothNoise(cv::Size size, double cell, Random random);

/// Sum of `octaves` smooth noises, each half as wide and `persistence` as strong as the one
/// before; scaled to variance 1.
Field FractalNoise(cv::Size size, double cell, int octaves, double persistence, Random random);

/// Distances to the nearest two of one random point a lattice cell, in lattice cells.
struct Cellular {
  Field nearest;
  Field second;
  Field level;  ///< A value of the nearest point's own, uniform in [0, 1).
};

struct CellularOptions {
  double cell = 20;       ///< Lattice step.
  double jitter = 0.8;    ///< 0: a square lattice; 1: anywhere in its cell.
  double elongation = 1;  ///< Cells are this much longer along `angle`.
  double angle = 0;       ///< Radians.
  double warp = 0.2;      ///< Sideways displacement by smooth noise, in lattice cells.
};
Cellular CellularNoise(cv::Size size, const CellularOptions& options, Random random);

/// Separable Gaussian blur with mirrored borders. Written out so that the result does not depend
/// on the processor's vector units.
Field Blurred(const Field& field, double sigma);

/// The value below which a share `q` of the field lies, where `mask` (same size, or empty) is > 0.
float Quantile(const Field& field, double q, const Field& mask = {});

/// field = factor * field + offset.
void Scale(Field& field, double factor, double offset = 0);
/// to += factor * from.
void AddScaled(Field& to, const Field& from, double factor);
double Mean(const Field& field);

/// Shifts and scales to mean 0, variance 1 (a constant field becomes 0).
void Standardise(Field& field);

}  // namespace debossier::simulate
