#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <iterator>
#include <memory>
#include <optional>

#include "base/outputs.h"
#include "batch/plan.h"
#include "cli/commands.h"
#include "image/photo.h"
#include "measure/measure_photo.h"
#include "measure/measure_text.h"
#include "results/measurement_json.h"
#include "results/words.h"
#include "trace/check_letters.h"
#include "trace/consensus.h"

namespace debossier::cli {

namespace {

struct MeasureJob {
  LetteringOptions lettering;
  std::string photo;
  std::string json;
  std::string crop;
  bool replace = false;
  bool free_aspect = false;
  bool allow_doubtful = false;
  card::ScaleOptions scale;
};

/// ", 3.512 mm (U 0.030)"; empty without a scale.
std::string InMm(const Measured& cap_heights, const Measured& mm) {
  if (!(mm.value > 0)) return "";
  const double u = Combine(cap_heights.u * mm.value, cap_heights.value * mm.u);
  return fmt::format(", {:.3f} mm (U {:.3f})", cap_heights.value * mm.value, 2 * u);
}

std::string Table(const outline::Lettering& lettering, const measure::Measurements& m,
                  const std::optional<card::Scale>& scale) {
  // The photo's own outlines carry its tilt: each direction has a scale of its own.
  Measured along, across;
  if (scale && scale->is_known()) {
    const double relative = scale->mm_per_cap_height.u / scale->mm_per_cap_height.value;
    along = {scale->along_mm, scale->along_mm * relative};
    across = {scale->across_mm, scale->across_mm * relative};
  }
  std::string out = fmt::format(
      "Lengths in cap heights of the wordmark; U is the expanded uncertainty (k = 2).\n"
      "Cap height {:.1f} px, blur {:.1f} px, baseline turned {:.1f} degrees.\n",
      m.quality.cap_height_px, m.quality.blur_px, m.quality.turn_deg);
  for (std::size_t l = 0; l < m.lines.size(); ++l) {
    const auto& line = m.lines[l];
    out +=
        fmt::format("line {} \"{}\": {}, height {:.4f} (U {:.4f}){}\n", line.id,
                    lettering.lines[l].text, measure::Name(line.line_case), line.height_ratio.value,
                    2 * line.height_ratio.u, InMm(line.height_ratio, across));
  }
  for (const auto& e : m.elements) {
    if (!e.found) {
      out += fmt::format("{} {}: not found\n", e.id, e.character);
      continue;
    }
    out +=
        fmt::format("{} {}: {}, height {:.4f} (U {:.4f}), width {:.4f} (U {:.4f}), stroke {:.4f}\n",
                    e.id, e.character, measure::Name(e.letter_case), e.height_ratio.value,
                    2 * e.height_ratio.u, e.width.value, 2 * e.width.u, e.stroke.value);
  }
  for (const auto& g : m.gaps) {
    out += fmt::format("gap {} to {}: {:.4f} (U {:.4f}){}\n", g.left, g.right, g.value.value,
                       2 * g.value.u, InMm(g.value, along));
  }
  if (m.mark.found) {
    out += fmt::format("mark {}: gap {:.4f} (U {:.4f}), height {:.4f} (U {:.4f}), foot {:.4f}\n",
                       m.mark.kind, m.mark.gap.value, 2 * m.mark.gap.u, m.mark.size.value,
                       2 * m.mark.size.u, m.mark.rise.value);
  }
  if (m.frame.kind != outline::FrameKind::kNone) {
    out +=
        fmt::format("frame: half width {:.4f}, half height {:.4f}, rule {:.4f}\n",
                    m.frame.half_width.value, m.frame.half_height.value, m.frame.line_weight.value);
  }
  if (scale) {
    out += "Scale: " + report::ScaleInWords(*scale) + "\n";
    for (const auto& note : report::ScaleNotes(*scale)) out += "  " + note + "\n";
  }
  for (const auto& a : m.quality.advice) out += "Advice: " + a + "\n";
  return out;
}

struct MeasuredText {
  outline::Lettering lettering;
  measure::Measurements measured;
  std::vector<measure::UncertaintySource> sources;
  std::string doubtful;  ///< In words; empty where every letter looks like itself.
};

/// The part of the photo that is looked at.
Result<cv::Rect> SeenPart(const image::Photo& photo, const std::string& wanted) {
  const cv::Rect all(0, 0, photo.bgr.cols, photo.bgr.rows);
  if (wanted.empty()) return all;
  const auto crop = batch::ParseCrop(wanted);
  if (!crop) return PassOn(crop);
  const cv::Rect seen = *crop & all;
  if (seen.width >= 16 && seen.height >= 16) return seen;
  return Refuse(ErrorCode::kUsage, "cli", wanted, "the crop lies outside the photo",
                fmt::format("give x,y,width,height within {} x {} pixels", all.width, all.height));
}

/// In words. Refuses where letters are clearly others than the text's, or where one stands beside
/// it; a worn letter is only named.
Result<std::string> DoubtfulLetters(const trace::Consensus& traced, const MeasureJob& job) {
  auto doubtful = trace::DoubtfulLetters(traced.lettering);
  if (job.allow_doubtful) {
    std::string shown =
        doubtful ? trace::InWords(*doubtful, traced.lettering) : doubtful.error().message;
    if (!traced.beside.empty()) shown += (shown.empty() ? "" : "; ") + traced.beside;
    return shown;
  }
  if (!doubtful) {
    doubtful.error().where = job.photo;
    return PassOn(doubtful);
  }
  std::vector<trace::LetterCheck> others;
  std::copy_if(doubtful->begin(), doubtful->end(), std::back_inserter(others), trace::IsAnother);
  if (others.empty() && traced.beside.empty()) return trace::InWords(*doubtful, traced.lettering);
  return Refuse(ErrorCode::kLetteringNotFound, "trace", job.photo,
                "the text is not what is stamped: " +
                    (others.empty() ? traced.beside : trace::InWords(others, traced.lettering)),
                "check the text letter by letter as stamped; where the letters really look so, say "
                "--allow-doubtful");
}

Result<MeasuredText> MeasureSeen(const cv::Mat& bgr, const cv::Rect& seen, const MeasureJob& job,
                                 const reading::TextSpec& spec) {
  trace::ConsensusOptions options;
  options.rounds = 2;
  options.place.free_aspect = job.free_aspect;
  auto traced = trace::BuildConsensus({{job.photo, bgr(seen)}}, spec, options);
  if (!traced) return PassOn(traced);
  auto doubtful = DoubtfulLetters(*traced, job);
  if (!doubtful) return PassOn(doubtful);
  MeasuredText out;
  fit::PlaceReport& placed = traced->items.front();
  fit::MoveBy(seen.tl(), placed);
  out.measured = measure::MeasurePhoto(traced->lettering, placed);
  const double blur = out.measured.quality.blur_px;
  const double growth =
      measure::CodingGrowth(placed.coverage,
                            blur / std::max(1.0, out.measured.quality.cap_height_px)) +
      measure::kUsualSpread;
  measure::TakeOutGrowth(growth, out.measured);
  out.sources = measure::SourcesOf(placed, blur);
  measure::AddUncertainty(out.sources, out.measured);
  out.doubtful = std::move(*doubtful);
  out.lettering = std::move(traced->lettering);
  return out;
}

/// What makes the uncertainty of two usual lengths.
std::string SourcesTable(const std::vector<measure::UncertaintySource>& sources) {
  std::string out =
      "Sources of u, % of cap height: of a gap of .2, of a height of 1; in U twice the root of "
      "their squares\n";
  for (const auto& s : sources) {
    constexpr double kGap = 0.2;
    const double edges = std::sqrt(2.0) * s.of_edge;
    const double gap = std::hypot(edges, (2 + 2 * kGap) * s.of_growth, kGap * s.of_width);
    const double height = std::hypot(edges, s.of_height);
    out += fmt::format("  {:52} {:5.2f} {:5.2f}\n", s.name, 100 * gap, 100 * height);
  }
  return out;
}

Result<std::string> RunMeasure(const MeasureJob& job, const Shared& shared) {
  auto spec = job.lettering.Spec();
  if (!spec) return PassOn(spec);
  if (auto checked = job.scale.Check(); !checked) return PassOn(checked);
  const IfExists if_exists = job.replace ? IfExists::kReplace : IfExists::kRefuse;
  const bool to_stdout = job.json == "-";
  auto free = CheckOutputs({{"--json", to_stdout ? "" : job.json}}, {job.photo},
                           shared.KeptFolders(), if_exists, "cli");
  if (!free) return PassOn(free);
  auto photo = image::LoadPhoto(job.photo);
  if (!photo) return PassOn(photo);
  if (auto checked = job.scale.CheckWithin(photo->bgr.size()); !checked) return PassOn(checked);
  const auto seen = SeenPart(*photo, job.crop);
  if (!seen) return PassOn(seen);
  auto result = MeasureSeen(photo->bgr, *seen, job, *spec);
  if (!result) return PassOn(result);
  std::optional<card::Scale> scale;
  if (job.scale.IsWanted()) {
    scale = card::FindScale(photo->bgr, photo->header.focal_length_35mm,
                            {result->measured.placement, outline::Bounds(result->lettering),
                             card::StampShape::kFromThisPhoto},
                            job.scale);
  }
  if (!job.json.empty()) {
    compare::Comparison c;
    c.photo = {photo->file, photo->sha256, photo->bgr.cols, photo->bgr.rows};
    c.reference = result->lettering;
    c.measured = result->measured;
    c.scale = scale;
    const std::string json = report::MeasurementJson(c);
    if (to_stdout) {
      std::fwrite(json.data(), 1, json.size(), stdout);
      return std::string();
    }
    auto written = WriteFileWhole(job.json, json, if_exists, "cli");
    if (!written) return PassOn(written);
  }
  std::string out = Table(result->lettering, result->measured, scale);
  out += SourcesTable(result->sources);
  if (!result->doubtful.empty()) {
    out += fmt::format("Doubtful, worn or perhaps cut in the wrong place: {}.\n", result->doubtful);
  }
  return out;
}

}  // namespace

void AddMeasure(CLI::App& app, const Shared& shared, Job& job) {
  auto* command = app.add_subcommand(
      "measure", "Measure one photo from its text alone, without a reference set");
  auto state = std::make_shared<MeasureJob>();
  command->add_option("--photo", state->photo, "The photo (JPEG, PNG, TIFF, WebP or HEIC)")
      ->required();
  state->lettering.AddTo(*command);
  command->add_option("--json", state->json,
                      "Write the measurements for other programs here; - is standard output");
  command->add_flag("--replace", state->replace, "Replace an output that exists");
  command->add_option("--crop", state->crop, "Look only here: x,y,width,height in photo pixels");
  command->add_flag("--free-aspect", state->free_aspect,
                    "The photo's scale of x and y cannot be trusted");
  command->add_flag("--allow-doubtful", state->allow_doubtful,
                    "Measure though letters look like others than the text's");
  AddScaleOptions(*command, state->scale);
  command->callback(
      [&job, &shared, state] { job = [&shared, state] { return RunMeasure(*state, shared); }; });
}

}  // namespace debossier::cli
