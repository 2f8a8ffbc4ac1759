// Light on the panel: what a place of leather, foil, thread or backing sends to the camera.
//
// A main light, a weaker one and the room; lights are round lobes exp(k (cos - 1)), so that the
// reflection in a rough mirror has a closed form: the slopes' spread widens the lobe. Leather and
// pigment are matt with a weak shine, metal foil is a mirror: bright where its slopes turn it to a
// light, dark where it reflects the room or the photographer.
// Frame: leather (y up, z out of the leather). Colours: linear, blue, green, red; 1 is a white
// matt sheet facing the main light.
#pragma once

#include <Eigen/Core>
#include <opencv2/core.hpp>
#include <vector>

#include "simulate/levels.h"
#include "simulate/materials.h"
#include "simulate/panel.h"

namespace debossier::simulate {

struct Light {
  Eigen::Vector3f towards;  ///< Unit vector to the light.
  float half_width = 0.4f;  ///< Radians.
  cv::Vec3f strength;       ///< Irradiance on a facing sheet, over pi.
};

struct Scene {
  std::vector<Light> lights;
  cv::Vec3f room;  ///< Radiance of the room.
  cv::Vec3f leather;
  float leather_gloss = 1;
  float leather_spread = 0.25f;  ///< Standard deviation of the slopes below the panel's cells.
  cv::Vec3f foil;
  bool is_metal = true;
  float foil_spread = 0.25f;
  cv::Vec3f thread;
  cv::Vec3f backing;
};

Scene DrawScene(const Amounts& amounts, Leather kind, const cv::Vec3b& leather_srgb,
                const cv::Vec3f& foil, bool is_metal, Random random);

/// Shades cells for one scene.
class Shader {
 public:
  Shader(const Scene& scene, double sample_mm);

  /// @param towards_camera unit vector; `panel_slope` the bend of the panel at the place.
  cv::Vec3f Shade(const Cell& cell, const Eigen::Vector3f& towards_camera,
                  const Eigen::Vector2f& panel_slope) const;

  /// Share of a sample that foil covers, 0 to 1; samples are `sample_mm` wide on the leather.
  float FoilCover(const Cell& cell) const;

 private:
  struct Lobe {
    Eigen::Vector3f towards;
    float sharpness;
    cv::Vec3f radiance;
  };
  std::vector<Lobe> LobesFor(float spread) const;
  cv::Vec3f Diffuse(const Eigen::Vector3f& normal, float open) const;
  cv::Vec3f Mirror(const Eigen::Vector3f& normal, const Eigen::Vector3f& towards_camera,
                   const std::vector<Lobe>& lobes, float open) const;

  Scene scene_;
  float inverse_softness_;
  std::vector<Lobe> leather_lobes_;
  std::vector<Lobe> foil_lobes_;
};

}  // namespace debossier::simulate
