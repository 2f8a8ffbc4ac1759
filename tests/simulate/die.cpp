#include "simulate/die.h"

#include <fmt/format.h>

#include <filesystem>

#include "outline/ufo.h"
#include "simulate/ufo_layout.h"

namespace debossier::simulate {

namespace {

using outline::FrameKind;

struct FrameRoom {
  double line_step;
  double clearance;
};

FrameRoom RoomFor(FrameKind frame) {
  if (frame == FrameKind::kEllipse) return {1.75, 0.35};
  return frame == FrameKind::kRectangle ? FrameRoom{1.3, 0.25} : FrameRoom{1.1, 0};
}

std::vector<typeset::LineSpec> LineSpecs(const DiePlan& plan) {
  const double step = plan.line_step > 0 ? plan.line_step : RoomFor(plan.frame).line_step;
  std::vector<typeset::LineSpec> specs;
  for (std::size_t k = 0; k < plan.lines.size(); ++k) {
    typeset::LineSpec spec;
    spec.id = k == 0 ? "wordmark" : k == 1 ? "origin" : fmt::format("line{}", k + 1);
    spec.text = plan.lines[k];
    spec.height = k == 0 ? 1 : plan.line_size;
    spec.tracking = plan.tracking;
    spec.baseline = -step * static_cast<double>(k);
    specs.push_back(spec);
  }
  return specs;
}

Result<outline::Lettering> WithoutFrame(const DiePlan& plan) {
  std::error_code ignored;
  if (std::filesystem::is_directory(plan.face, ignored)) {
    const auto alphabet = outline::LoadUfo(plan.face);
    if (!alphabet) return PassOn(alphabet);
    return LayOutUfo(*alphabet, LineSpecs(plan), plan.mark, {});
  }
  const auto font = typeset::Font::Load(plan.face);
  if (!font) return PassOn(font);
  if (plan.origin_face.empty()) {
    return typeset::LayOut(*font, nullptr, LineSpecs(plan), plan.mark, {});
  }
  const auto second = typeset::Font::Load(plan.origin_face);
  if (!second) return PassOn(second);
  return typeset::LayOut(*font, &*second, LineSpecs(plan), plan.mark, {});
}

Result<outline::Lettering> LayOut(const DiePlan& plan) {
  auto die = WithoutFrame(plan);
  if (!die || plan.frame == FrameKind::kNone) return die;
  return WithFrame(*die, plan.frame, plan.lines.size() > 1 ? 1 : -1, RoomFor(plan.frame).clearance,
                   0.05);
}

/// Lays out `plan` with other texts.
LayOutAgain Again(DiePlan plan) {
  return [plan = std::move(plan)](const std::vector<std::string>& texts) {
    DiePlan other = plan;
    other.lines = texts;
    return LayOut(other);
  };
}

DepartureSources SourcesOf(const DiePlan& plan) {
  DepartureSources sources;
  sources.same_face = Again(plan);
  if (!plan.other_face.empty()) {
    DiePlan other = plan;
    other.face = plan.other_face;
    other.origin_face.clear();
    sources.other_face = Again(other);
  }
  DiePlan marked = plan;
  marked.mark.character = plan.mark.character == "®" ? "©" : "®";
  sources.other_mark = Again(marked);
  sources.other_text = plan.other_text;
  return sources;
}

}  // namespace

Result<outline::Lettering> MakeDie(const DiePlan& plan, std::vector<Departure>& departures) {
  auto die = LayOut(plan);
  const DepartureSources sources = SourcesOf(plan);
  for (Departure& departure : departures) {
    if (!die) break;
    die = ApplyDeparture(*die, departure, sources);
  }
  return die;
}

}  // namespace debossier::simulate
