#include "support/sample_letters.h"

namespace debossier::test_support {
namespace {

using outline::Contour;
using outline::Outline;
using outline::Point;
using outline::Segment;

Segment Curve(const Point& control1, const Point& control2, const Point& end) {
  return {.is_line = false, .control1 = control1, .control2 = control2, .end = end};
}

Outline LetterD() {
  Contour outer;
  outer.segments = {{.end = {0.30, 0}},
                    Curve({0.60, 0}, {0.76, 0.20}, {0.76, 0.50}),
                    Curve({0.76, 0.80}, {0.60, 1}, {0.30, 1}),
                    {.end = {0, 1}},
                    {.end = {0, 0}}};
  Contour counter;
  counter.start = {0.14, 0.13};
  counter.segments = {{.end = {0.14, 0.87}},
                      {.end = {0.30, 0.87}},
                      Curve({0.52, 0.87}, {0.61, 0.72}, {0.61, 0.50}),
                      Curve({0.61, 0.28}, {0.52, 0.13}, {0.30, 0.13}),
                      {.end = {0.14, 0.13}}};
  return {{outer, counter}};
}

Outline RegisteredSign() {
  Outline sign;
  sign.contours = {outline::Ellipse({0.5, 0.5}, 0.5, 0.5),
                   outline::Ellipse({0.5, 0.5}, 0.41, 0.41)};
  sign.contours.push_back(outline::FromPolyline({{0.34, 0.24},
                                                 {0.44, 0.24},
                                                 {0.44, 0.44},
                                                 {0.50, 0.44},
                                                 {0.58, 0.24},
                                                 {0.69, 0.24},
                                                 {0.59, 0.47},
                                                 {0.65, 0.53},
                                                 {0.65, 0.69},
                                                 {0.57, 0.76},
                                                 {0.34, 0.76}}));
  sign.contours.push_back(
      outline::FromPolyline({{0.44, 0.53}, {0.44, 0.67}, {0.55, 0.67}, {0.55, 0.53}}));
  return outline::WithStandardDirection(sign);
}

}  // namespace

Outline OtherE() {
  return {{outline::FromPolyline({{0, 0},
                                  {0.60, -0.05},
                                  {0.66, 0.16},
                                  {0.58, 0.13},
                                  {0.14, 0.13},
                                  {0.14, 0.37},
                                  {0.40, 0.37},
                                  {0.40, 0.50},
                                  {0.14, 0.50},
                                  {0.14, 0.87},
                                  {0.57, 0.87},
                                  {0.57, 1},
                                  {0, 1}})}};
}

Outline SampleLetter(char letter) {
  switch (letter) {
    case 'A':
      return {{outline::FromPolyline({{0, 0},
                                      {0.16, 0},
                                      {0.24, 0.24},
                                      {0.62, 0.24},
                                      {0.70, 0},
                                      {0.86, 0},
                                      {0.51, 1},
                                      {0.35, 1}}),
               outline::FromPolyline({{0.285, 0.37}, {0.43, 0.80}, {0.575, 0.37}})}};
    case 'D':
      return LetterD();
    case 'E':
      return {{outline::FromPolyline({{0, 0},
                                      {0.58, 0},
                                      {0.58, 0.13},
                                      {0.14, 0.13},
                                      {0.14, 0.44},
                                      {0.52, 0.44},
                                      {0.52, 0.57},
                                      {0.14, 0.57},
                                      {0.14, 0.87},
                                      {0.57, 0.87},
                                      {0.57, 1},
                                      {0, 1}})}};
    case 'I':
      return {{outline::FromPolyline({{0, 0}, {0.14, 0}, {0.14, 1}, {0, 1}})}};
    case 'L':
      return {{outline::FromPolyline(
          {{0, 0}, {0.54, 0}, {0.54, 0.13}, {0.14, 0.13}, {0.14, 1}, {0, 1}})}};
    case 'M':
      return {{outline::FromPolyline({{0, 0},
                                      {0.13, 0},
                                      {0.13, 0.74},
                                      {0.40, 0.10},
                                      {0.50, 0.10},
                                      {0.77, 0.74},
                                      {0.77, 0},
                                      {0.90, 0},
                                      {0.90, 1},
                                      {0.73, 1},
                                      {0.45, 0.33},
                                      {0.17, 1},
                                      {0, 1}})}};
    case 'N':
      return {{outline::FromPolyline({{0, 0},
                                      {0.14, 0},
                                      {0.14, 0.73},
                                      {0.59, 0},
                                      {0.74, 0},
                                      {0.74, 1},
                                      {0.60, 1},
                                      {0.60, 0.27},
                                      {0.15, 1},
                                      {0, 1}})}};
    case 'R':
      return RegisteredSign();
    case 'T':
      return {{outline::FromPolyline({{0.29, 0},
                                      {0.43, 0},
                                      {0.43, 0.87},
                                      {0.72, 0.87},
                                      {0.72, 1},
                                      {0, 1},
                                      {0, 0.87},
                                      {0.29, 0.87}})}};
    case 'V':
      return {{outline::FromPolyline(
          {{0.35, 0}, {0.51, 0}, {0.86, 1}, {0.70, 1}, {0.43, 0.20}, {0.16, 1}, {0, 1}})}};
    default:
      return {};
  }
}

}  // namespace debossier::test_support
