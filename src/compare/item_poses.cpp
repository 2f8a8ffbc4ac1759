// Poses of an item as its set keeps them, or as its measured lengths say.
#include <algorithm>
#include <cmath>
#include <map>

#include "compare/item_lettering.h"
#include "compare/set_model.h"

namespace debossier::compare {

namespace {

using measure::Pose;

/// The widest uncertainty among an item's features whose key starts with `measure` and names the
/// element.
double UncertaintyOf(const refset::Item& item, const std::string& measure, const std::string& id) {
  double u = 0;
  for (auto at = item.features.lower_bound(measure + " ");
       at != item.features.end() && at->first.starts_with(measure + " "); ++at) {
    const std::string about = " " + at->first.substr(measure.size() + 1) + " ";
    if (about.find(" " + id + " ") != std::string::npos) u = std::max(u, at->second.u);
  }
  return u;
}

/// From lengths: sets of before poses were kept. A gap's uncertainty is that of two edges. Shears
/// were not kept.
std::map<std::string, Pose> PosesFromLengths(const refset::RefSet& set, const refset::Item& item) {
  constexpr double kUsualU = 0.003;
  constexpr double kUnknownVariance = 1;
  std::map<std::string, outline::Box> references;
  for (const auto& e : set.lettering.elements) references[e.id] = outline::Bounds(e.outline);
  std::map<std::string, Pose> poses;
  for (const auto& e : LetteringOfItem(set, item)) {
    const outline::Box& was = references.at(e.id);
    const outline::Box is = outline::Bounds(e.outline);
    if (was.width() <= 0 || was.height() <= 0 || is.width() <= 0 || is.height() <= 0) continue;
    const bool mark = e.kind == outline::ElementKind::kMark;
    const auto u = [&](const char* letters, const char* marks) {
      const double kept = UncertaintyOf(item, mark ? marks : letters, e.id);
      return kept > 0 ? kept : kUsualU;
    };
    const double u_size = u("letter height", "mark size");
    Pose pose;
    pose.value << is.centre().x() - was.centre().x(), is.centre().y() - was.centre().y(),
        std::log(is.width() / was.width()), std::log(is.height() / was.height()), 0;
    PoseVector variance;
    variance << std::pow(u("gap", "mark gap") / std::sqrt(2.0), 2),
        std::pow(u("baseline", "mark rise"), 2),
        std::pow(u("letter width", "mark size") / was.width(), 2),
        std::pow(u_size / was.height(), 2), kUnknownVariance;
    pose.covariance = variance.asDiagonal();
    poses[e.id] = pose;
  }
  return poses;
}

}  // namespace

PhotoPoses PosesOf(const refset::RefSet& set, const refset::Item& item) {
  const auto poses = item.poses.empty() ? PosesFromLengths(set, item) : item.poses;
  PhotoPoses out;
  out.blur = item.cap_height_px > 0 ? item.blur_px / item.cap_height_px : 0;
  for (const auto& e : set.lettering.elements) {
    const auto at = poses.find(e.id);
    out.elements.push_back(at == poses.end() ? std::nullopt : std::optional<Pose>(at->second));
  }
  return out;
}

}  // namespace debossier::compare
