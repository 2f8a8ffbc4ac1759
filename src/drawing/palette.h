// Colours of the reports, told apart by colour-blind readers.
//
// Source: M. Okabe and K. Ito, "Color Universal Design (CUD): how to make figures and presentations
// that are friendly to colorblind people", 2002, revised 2008: the set of eight colours, given
// there in 8-bit sRGB. No meaning rests on colour alone: lines differ in dashes, areas in hatches,
// findings in signs and words.
#pragma once

namespace debossier::report {

struct Colour {
  double red = 0;
  double green = 0;
  double blue = 0;
  static constexpr Colour Rgb8(int r, int g, int b) { return {r / 255.0, g / 255.0, b / 255.0}; }
};

// Okabe and Ito 2008.
inline constexpr Colour kBlack = Colour::Rgb8(0, 0, 0);
inline constexpr Colour kOrange = Colour::Rgb8(230, 159, 0);
inline constexpr Colour kSkyBlue = Colour::Rgb8(86, 180, 233);
inline constexpr Colour kBluishGreen = Colour::Rgb8(0, 158, 115);
inline constexpr Colour kYellow = Colour::Rgb8(240, 228, 66);
inline constexpr Colour kBlue = Colour::Rgb8(0, 114, 178);
inline constexpr Colour kVermillion = Colour::Rgb8(213, 94, 0);
inline constexpr Colour kReddishPurple = Colour::Rgb8(204, 121, 167);

// Greys for text, rules and grounds.
inline constexpr Colour kWhite = Colour::Rgb8(255, 255, 255);
inline constexpr Colour kInk = Colour::Rgb8(28, 30, 34);
inline constexpr Colour kQuietInk = Colour::Rgb8(92, 96, 102);
inline constexpr Colour kRule = Colour::Rgb8(200, 203, 207);
inline constexpr Colour kGround = Colour::Rgb8(244, 244, 241);
inline constexpr Colour kFoilGrey = Colour::Rgb8(214, 209, 196);

// What the colours stand for.
inline constexpr Colour kReferenceColour = kBlue;      ///< Reference outline, dashed.
inline constexpr Colour kFoundColour = kInk;           ///< Edge of the foil, thin and solid.
inline constexpr Colour kDepartsColour = kVermillion;  ///< Departing element, solid and thick.
inline constexpr Colour kMissingColour = kBlue;        ///< Missing foil, rising hatch.
inline constexpr Colour kExtraColour = kVermillion;    ///< Extra foil, falling cross hatch.

}  // namespace debossier::report
