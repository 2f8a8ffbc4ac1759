#include "simulate/materials.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace debossier::simulate {
namespace {

constexpr std::array kLeathers{Leather::kPebbled, Leather::kSmooth, Leather::kCrossGrain};
constexpr std::array kFinishes{Finish::kGold,  Finish::kRose,   Finish::kSilver, Finish::kWhite,
                               Finish::kBlack, Finish::kColour, Finish::kBlind};

const LeatherColour kColours[] = {
    {"black", {32, 32, 34}},    {"charcoal", {58, 58, 60}},  {"espresso", {32, 42, 58}},
    {"brown", {40, 62, 98}},    {"chestnut", {42, 68, 122}}, {"cognac", {48, 92, 156}},
    {"tan", {78, 128, 182}},    {"red", {40, 34, 150}},      {"burgundy", {38, 28, 92}},
    {"navy", {74, 48, 36}},     {"forest", {46, 66, 44}},    {"taupe", {102, 118, 134}},
    {"beige", {156, 186, 206}}, {"cream", {190, 212, 224}},
};

double Luminance(const cv::Vec3f& bgr) {
  return 0.0722 * bgr[0] + 0.7152 * bgr[1] + 0.2126 * bgr[2];
}

}  // namespace

std::string_view NameOf(Leather leather) {
  switch (leather) {
    case Leather::kPebbled:
      return "pebbled";
    case Leather::kSmooth:
      return "smooth";
    case Leather::kCrossGrain:
      return "cross-grain";
  }
  return "";
}

std::string_view NameOf(Finish finish) {
  switch (finish) {
    case Finish::kGold:
      return "gold";
    case Finish::kRose:
      return "rose";
    case Finish::kSilver:
      return "silver";
    case Finish::kWhite:
      return "white";
    case Finish::kBlack:
      return "black";
    case Finish::kColour:
      return "colour";
    case Finish::kBlind:
      return "blind";
  }
  return "";
}

Result<Leather> LeatherNamed(std::string_view name) {
  for (const Leather leather : kLeathers) {
    if (NameOf(leather) == name) return leather;
  }
  return Refuse(ErrorCode::kUsage, "simulate", std::string(name), "there is no such leather",
                "use pebbled, smooth or cross-grain");
}

Result<Finish> FinishNamed(std::string_view name) {
  for (const Finish finish : kFinishes) {
    if (NameOf(finish) == name) return finish;
  }
  return Refuse(ErrorCode::kUsage, "simulate", std::string(name), "there is no such finish",
                "use gold, rose, silver, white, black, colour or blind");
}

std::span<const Leather> AllLeathers() { return kLeathers; }
std::span<const Finish> AllFinishes() { return kFinishes; }
std::span<const LeatherColour> LeatherColours() { return kColours; }

Result<const LeatherColour*> LeatherColourNamed(std::string_view name) {
  for (const LeatherColour& colour : kColours) {
    if (name == colour.name) return &colour;
  }
  std::string names;
  for (const LeatherColour& colour : kColours) names += std::string(" ") + colour.name;
  return Refuse(ErrorCode::kUsage, "simulate", std::string(name), "there is no such leather colour",
                "use one of:" + names);
}

const LeatherColour& DrawLeatherColour(Finish finish, Random& random) {
  std::vector<const LeatherColour*> fitting;
  for (const LeatherColour& colour : kColours) {
    const double luminance = Luminance(LinearFromSrgb(colour.srgb));
    const bool fits = finish == Finish::kBlack                                ? luminance > 0.08
                      : finish == Finish::kWhite || finish == Finish::kSilver ? luminance < 0.25
                      : finish == Finish::kColour ? luminance > 0.12 || luminance < 0.03
                                                  : luminance < 0.60;
    if (fits) fitting.push_back(&colour);
  }
  return *fitting[random.Below(static_cast<int>(fitting.size()))];
}

cv::Vec3f DrawFoilColour(Finish finish, Random& random) {
  const auto vary = [&random](float value) {
    return std::clamp(value * static_cast<float>(random.Uniform(0.92, 1.06)), 0.0f, 1.0f);
  };
  switch (finish) {
    case Finish::kGold:
      return {vary(0.28f), vary(0.62f), vary(0.92f)};
    case Finish::kRose:
      return {vary(0.46f), vary(0.54f), vary(0.90f)};
    case Finish::kSilver:
      return {vary(0.84f), vary(0.86f), vary(0.87f)};
    case Finish::kWhite:
      return {vary(0.74f), vary(0.79f), vary(0.81f)};
    case Finish::kBlack:
      return {vary(0.016f), vary(0.014f), vary(0.014f)};
    case Finish::kColour:
      break;
    case Finish::kBlind:
      return {0, 0, 0};
  }
  const std::array<cv::Vec3f, 4> kPigments{
      cv::Vec3f(0.05f, 0.04f, 0.52f), cv::Vec3f(0.36f, 0.11f, 0.05f),
      cv::Vec3f(0.16f, 0.28f, 0.05f), cv::Vec3f(0.05f, 0.34f, 0.70f)};
  const cv::Vec3f& base = kPigments[random.Below(static_cast<int>(kPigments.size()))];
  return {vary(base[0]), vary(base[1]), vary(base[2])};
}

float LinearFromSrgb(float coded) {
  return coded <= 0.04045f ? coded / 12.92f : std::pow((coded + 0.055f) / 1.055f, 2.4f);
}

float SrgbFromLinear(float linear) {
  return linear <= 0.0031308f ? 12.92f * linear : 1.055f * std::pow(linear, 1.0f / 2.4f) - 0.055f;
}

cv::Vec3f LinearFromSrgb(const cv::Vec3b& coded) {
  const auto one = [](unsigned char c) { return LinearFromSrgb(static_cast<float>(c) / 255.0f); };
  return {one(coded[0]), one(coded[1]), one(coded[2])};
}

}  // namespace debossier::simulate
