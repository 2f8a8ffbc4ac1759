#include "simulate/shading.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <numbers>

namespace debossier::simulate {
namespace {

constexpr double kRadians = std::numbers::pi / 180;
/// Reflectance of a dielectric (refractive index 1.5) at right angles: ((n - 1) / (n + 1))^2.
constexpr float kDielectric = 0.04f;

/// exp(x) for x <= 0 to a relative 2e-4: 2^n by the exponent bits times a cubic in the rest.
float ExpOfNegative(float x) {
  const float power = std::max(x, -40.0f) * 1.44269504f;
  const float whole = std::floor(power);
  const float rest = power - whole;
  const float mantissa = 1 + rest * (0.69583354f + rest * (0.22606716f + rest * 0.07809950f));
  const auto bits = static_cast<std::uint32_t>(static_cast<int>(whole) + 127) << 23;
  return std::bit_cast<float>(bits) * mantissa;
}

Eigen::Vector3f Direction(double azimuth_deg, double elevation_deg) {
  const double a = azimuth_deg * kRadians;
  const double e = elevation_deg * kRadians;
  return Eigen::Vector3d(std::cos(e) * std::cos(a), std::cos(e) * std::sin(a), std::sin(e))
      .cast<float>();
}

cv::Vec3f Product(const cv::Vec3f& a, const cv::Vec3f& b) {
  return {a[0] * b[0], a[1] * b[1], a[2] * b[2]};
}

}  // namespace

Scene DrawScene(const Amounts& amounts, Leather kind, const cv::Vec3b& leather_srgb,
                const cv::Vec3f& foil, bool is_metal, Random random) {
  Scene scene;
  const auto warm = static_cast<float>(random.Uniform(-0.06, 0.08));
  const auto room = static_cast<float>(amounts.room_light);
  const double elevation = std::max(10.0, amounts.light_elevation_deg);
  // A facing sheet gets 1 from the main light and the room together, when the leather lies flat.
  const auto main =
      static_cast<float>((1 - 0.6 * amounts.room_light) / std::sin(elevation * kRadians));
  const auto half_width = static_cast<float>(amounts.light_size_deg * kRadians);
  scene.lights.push_back({Direction(amounts.light_azimuth_deg, elevation), half_width,
                          cv::Vec3f(1 - warm, 1, 1 + warm) * main});
  const double second_azimuth = amounts.light_azimuth_deg + random.Uniform(90, 270);
  const auto second = static_cast<float>(random.Uniform(0.08, 0.35));
  scene.lights.push_back({Direction(second_azimuth, random.Uniform(25, 70)), 0.5f,
                          cv::Vec3f(1.06f, 1, 0.95f) * (second * main)});
  scene.room = cv::Vec3f(1.05f, 1, 0.96f) * room;
  scene.leather = LinearFromSrgb(leather_srgb);
  switch (kind) {
    case Leather::kPebbled:
      scene.leather_gloss = static_cast<float>(random.Uniform(0.2, 0.6));
      scene.leather_spread = 0.20f;
      break;
    case Leather::kSmooth:
      scene.leather_gloss = static_cast<float>(random.Uniform(0.2, 0.7));
      scene.leather_spread = 0.20f;
      break;
    case Leather::kCrossGrain:
      scene.leather_gloss = static_cast<float>(random.Uniform(0.4, 0.9));
      scene.leather_spread = 0.16f;
      break;
  }
  scene.foil = foil;
  scene.is_metal = is_metal;
  scene.foil_spread = static_cast<float>(amounts.foil_roughness);
  const auto pale = static_cast<float>(random.Uniform(0.25, 0.75));
  scene.thread = random.Below(2) == 0 ? cv::Vec3f(0.75f, 0.92f, 1.0f) * pale
                                      : scene.leather * 1.5f + cv::Vec3f(0.01f, 0.01f, 0.01f);
  const auto tint = static_cast<float>(random.Uniform(-0.2, 0.2));
  scene.backing = cv::Vec3f(1 - tint, 1, 1 + tint);
  return scene;
}

Shader::Shader(const Scene& scene, double sample_mm) : scene_(scene) {
  inverse_softness_ = static_cast<float>(1 / std::max(sample_mm, 1e-4));
  leather_lobes_ = LobesFor(scene.leather_spread);
  foil_lobes_ = LobesFor(scene.foil_spread);
}

std::vector<Shader::Lobe> Shader::LobesFor(float spread) const {
  // A uniform disc of half width w has variance w^2 / 4 in each direction; a mirror whose slopes
  // have standard deviation s throws a ray by 2 s.
  std::vector<Lobe> lobes;
  for (const Light& light : scene_.lights) {
    const float variance = 0.25f * light.half_width * light.half_width + 4 * spread * spread;
    const float sharpness = 1 / variance;
    lobes.push_back({light.towards, sharpness, light.strength * (0.5f * sharpness)});
  }
  return lobes;
}

float Shader::FoilCover(const Cell& cell) const {
  const float inside = std::clamp(0.5f - cell[kEdge] * inverse_softness_, 0.0f, 1.0f);
  return inside * std::clamp(0.5f + cell[kKeep], 0.0f, 1.0f);
}

cv::Vec3f Shader::Diffuse(const Eigen::Vector3f& normal, float open) const {
  cv::Vec3f sum = scene_.room * (0.6f * open * (0.5f + 0.5f * normal.z()));
  // Places sunk among others are reached by less of a wide light, too.
  const float reached = 0.55f + 0.45f * std::min(open, 1.0f);
  for (const Light& light : scene_.lights) {
    sum += light.strength * (reached * std::max(0.0f, normal.dot(light.towards)));
  }
  return sum;
}

cv::Vec3f Shader::Mirror(const Eigen::Vector3f& normal, const Eigen::Vector3f& towards_camera,
                         const std::vector<Lobe>& lobes, float open) const {
  const Eigen::Vector3f reflected = 2 * normal.dot(towards_camera) * normal - towards_camera;
  // The photographer stands in the way of the room's light.
  const float shadow = ExpOfNegative(5.0f * (std::min(1.0f, reflected.dot(towards_camera)) - 1));
  const float sky = (0.55f + 0.45f * reflected.z()) * (1 - 0.65f * shadow);
  cv::Vec3f sum = scene_.room * sky;
  for (const Lobe& lobe : lobes) {
    const float away = std::min(0.0f, reflected.dot(lobe.towards) - 1);
    sum += lobe.radiance * ExpOfNegative(lobe.sharpness * away);
  }
  return sum * (0.4f + 0.6f * std::min(open, 1.0f));
}

cv::Vec3f Shader::Shade(const Cell& cell, const Eigen::Vector3f& towards_camera,
                        const Eigen::Vector2f& panel_slope) const {
  const float slope_x = cell[kSlopeX] + panel_slope.x();
  const float slope_y = cell[kSlopeY] + panel_slope.y();
  const Eigen::Vector3f normal = Eigen::Vector3f(-slope_x, -slope_y, 1).normalized();
  const float open = cell[kOpen];
  const cv::Vec3f light = Diffuse(normal, open);
  const float foil = scene_.foil == cv::Vec3f(0, 0, 0) ? 0.0f : FoilCover(cell);

  cv::Vec3f colour(0, 0, 0);
  if (foil < 1) {
    const cv::Vec3f shine = Mirror(normal, towards_camera, leather_lobes_, open) *
                            (kDielectric * scene_.leather_gloss * cell[kGloss]);
    colour = (Product(scene_.leather, light) * cell[kReflect] + shine) * (1 - foil);
  }
  if (foil > 0) {
    const Eigen::Vector3f tilted =
        Eigen::Vector3f(-slope_x - cell[kFoilX], -slope_y - cell[kFoilY], 1).normalized();
    const cv::Vec3f mirrored = Mirror(tilted, towards_camera, foil_lobes_, open);
    const cv::Vec3f sent = scene_.is_metal
                               ? Product(scene_.foil, mirrored)
                               : Product(scene_.foil, light) + mirrored * (0.7f * kDielectric);
    colour += sent * foil;
  }
  if (cell[kThread] > 0) {
    const cv::Vec3f thread = Product(scene_.thread, light) * cell[kThreadTone];
    colour += (thread - colour) * cell[kThread];
  }
  if (cell[kBacking] > 0) {
    const cv::Vec3f backing = Product(scene_.backing, light) * cell[kReflect];
    colour += (backing - colour) * cell[kBacking];
  }
  return colour;
}

}  // namespace debossier::simulate
