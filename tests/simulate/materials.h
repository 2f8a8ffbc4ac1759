// Leathers, leather colours and foils by name, and their reflectance.
//
// Colours are linear light, order blue, green, red, 0 to 1.
#pragma once

#include <opencv2/core.hpp>
#include <span>
#include <string>
#include <string_view>

#include "base/result.h"
#include "simulate/random.h"

namespace debossier::simulate {

enum class Leather { kPebbled, kSmooth, kCrossGrain };
enum class Finish { kGold, kRose, kSilver, kWhite, kBlack, kColour, kBlind };

std::string_view NameOf(Leather leather);
std::string_view NameOf(Finish finish);
Result<Leather> LeatherNamed(std::string_view name);
Result<Finish> FinishNamed(std::string_view name);
std::span<const Leather> AllLeathers();
std::span<const Finish> AllFinishes();

inline bool IsMetal(Finish finish) { return finish <= Finish::kSilver; }
inline bool HasFoil(Finish finish) { return finish != Finish::kBlind; }

struct LeatherColour {
  const char* name;
  cv::Vec3b srgb;  ///< Blue, green, red as coded.
};
std::span<const LeatherColour> LeatherColours();
Result<const LeatherColour*> LeatherColourNamed(std::string_view name);

/// A leather colour that stands out from `finish`.
const LeatherColour& DrawLeatherColour(Finish finish, Random& random);

/// Reflectance of the foil: of a mirror for metals, of paint for pigments.
cv::Vec3f DrawFoilColour(Finish finish, Random& random);

/// sRGB coding (IEC 61966-2-1) and back, one channel, 0 to 1.
float LinearFromSrgb(float coded);
float SrgbFromLinear(float linear);
cv::Vec3f LinearFromSrgb(const cv::Vec3b& coded);

}  // namespace debossier::simulate
