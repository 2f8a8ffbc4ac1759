#include "batch/record.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>
#include <system_error>

#include "base/files.h"
#include "base/version.h"
#include "results/words.h"

namespace debossier::batch {

namespace fs = std::filesystem;

namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kFormatName = "debossier-batch-record";
constexpr int kFormatVersion = 3;
constexpr std::uint64_t kLargestRecord = 1u << 20;
constexpr std::uint64_t kLargestOutput = 256u << 20;

void AddNumbers(const outline::Outline& outline, std::string& text) {
  const auto add = [&](const outline::Point& p) {
    text += fmt::format("{:a},{:a};", p.x(), p.y());
  };
  for (const auto& contour : outline.contours) {
    text += '|';
    add(contour.start);
    for (const auto& s : contour.segments) {
      text += s.is_line ? 'l' : 'c';
      if (!s.is_line) {
        add(s.control1);
        add(s.control2);
      }
      add(s.end);
    }
  }
}

std::optional<Outcome> OutcomeNamed(const std::string& name) {
  for (const Outcome o : {Outcome::kCompared, Outcome::kRefused}) {
    if (name == Name(o)) return o;
  }
  return std::nullopt;  // what failed is tried again
}

std::optional<compare::Finding> FindingNamed(const std::string& name) {
  using compare::Finding;
  for (const Finding f : {Finding::kDeparts, Finding::kNoDepartureFound, Finding::kCannotTell}) {
    if (name == compare::Name(f)) return f;
  }
  return std::nullopt;
}

}  // namespace

const char* Name(Outcome outcome) {
  switch (outcome) {
    case Outcome::kCompared:
      return "compared";
    case Outcome::kRefused:
      return "refused";
    case Outcome::kFailed:
      return "failed";
    case Outcome::kNotDone:
      return "not-done";
  }
  DEBOSSIER_ASSERT(!"an outcome outside its enumeration");
}

std::string Name(report::Paper paper) { return paper == report::Paper::kA4 ? "a4" : "letter"; }

LoadedSet WithFingerprint(refset::RefSet set) {
  std::string all = refset::SetJson(set);
  for (const auto& element : set.lettering.elements) AddNumbers(element.outline, all);
  std::string fingerprint = Sha256Hex(all);
  return {std::move(set), std::move(fingerprint)};
}

std::string KeyOf(const std::string& photo_sha256, const LoadedSet& set, const std::string& crop,
                  const compare::CompareOptions& options, const report::ReportFields& fields) {
  std::string all =
      fmt::format("{}\n{}\n{}\n{}\n{}\n{}\n{:a}\n{}\n", kFormatVersion, kVersion, photo_sha256,
                  set.set.id, set.fingerprint, crop, options.false_flag_rate, options.free_aspect);
  for (const auto& [name, value] : options.scale.Echo()) all += fmt::format("{}={}\n", name, value);
  for (const report::FieldName& field : report::FieldNames()) {
    if (!(fields.*(field.value)).empty()) {
      all += fmt::format("{}={}\n", field.name, fields.*(field.value));
    }
  }
  return Sha256Hex(all);
}

void Fill(const compare::Comparison& c, Record& r) {
  r.outcome = Outcome::kCompared;
  r.finding = c.finding;
  r.summary = c.summary;
  if (!c.reasons.empty()) r.reason = c.reasons.front().text;
  if (c.finding == compare::Finding::kDeparts) {
    for (const auto& reason : c.reasons) {
      const double size = std::abs(reason.effect);
      if (reason.unit != "cap heights" || !std::isfinite(size) || size == 0) continue;
      if (r.largest && size <= *r.largest) continue;
      r.largest = size;
      r.largest_measure = reason.measure;
    }
  }
  r.width = c.photo.width;
  r.height = c.photo.height;
  r.score = c.score;
  r.cap_height_px = c.measured.quality.cap_height_px;
  r.refset_revision = c.refset_revision;
  r.refset_items = c.refset_items;
  r.refset_simulated = c.refset_simulated;
  r.maker = c.refset_maker;
  r.period = c.refset_period;
  for (const std::string& advice : report::AllAdvice(c)) {
    r.advice += (r.advice.empty() ? "" : " ") + advice;
  }
}

void Fill(const Error& error, Record& r) {
  switch (error.code) {
    case ErrorCode::kNotAnImage:
    case ErrorCode::kOverLimit:
    case ErrorCode::kPhotoTooSmall:
    case ErrorCode::kNoStamp:
    case ErrorCode::kLetteringNotFound:
      r.outcome = Outcome::kRefused;
      break;
    default:
      r.outcome = Outcome::kFailed;
  }
  r.code = ExitCode(error.code);
  r.message = error.message;
  r.hint = error.hint;
}

std::string RecordJson(const Record& r) {
  Json json = {{"format", kFormatName}, {"version", kFormatVersion}, {"outcome", Name(r.outcome)},
               {"key", r.key},          {"sha256", r.sha256},        {"width", r.width},
               {"height", r.height},    {"thumbnail", r.thumbnail},  {"pair", r.pair},
               {"pdf", r.pdf},          {"files", r.files}};
  if (r.outcome == Outcome::kCompared) {
    json["finding"] = compare::Name(r.finding);
    json["summary"] = r.summary;
    json["reason"] = r.reason;
    json["largest"] = r.largest ? Json(*r.largest) : Json();
    json["largest_measure"] = r.largest_measure;
    json["score"] = r.score;
    json["cap_height_px"] = r.cap_height_px;
    json["refset"] = {{"revision", r.refset_revision},
                      {"items", r.refset_items},
                      {"simulated", r.refset_simulated},
                      {"maker", r.maker},
                      {"period", r.period}};
    json["advice"] = r.advice;
  } else {
    json["code"] = r.code;
    json["message"] = r.message;
    json["hint"] = r.hint;
  }
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

std::optional<Record> ParseRecord(const std::string& text) {
  try {
    const Json json = Json::parse(text);
    if (json.at("format") != kFormatName || json.at("version") != kFormatVersion) return {};
    Record r;
    const auto outcome = OutcomeNamed(json.at("outcome"));
    if (!outcome) return {};
    r.outcome = *outcome;
    r.key = json.at("key");
    r.sha256 = json.at("sha256");
    r.width = json.at("width");
    r.height = json.at("height");
    r.thumbnail = json.at("thumbnail");
    r.pair = json.at("pair");
    r.pdf = json.at("pdf");
    r.files = json.at("files");
    if (r.outcome != Outcome::kCompared) {
      r.code = json.at("code");
      r.message = json.at("message");
      r.hint = json.at("hint");
      return r;
    }
    const auto finding = FindingNamed(json.at("finding"));
    if (!finding) return {};
    r.finding = *finding;
    r.summary = json.at("summary");
    r.reason = json.at("reason");
    if (!json.at("largest").is_null()) r.largest = json.at("largest").get<double>();
    r.largest_measure = json.at("largest_measure");
    r.score = json.at("score").is_null() ? 0 : json.at("score").get<double>();
    r.cap_height_px =
        json.at("cap_height_px").is_null() ? 0 : json.at("cap_height_px").get<double>();
    const Json& set = json.at("refset");
    r.refset_revision = set.at("revision");
    r.refset_items = set.at("items");
    r.refset_simulated = set.at("simulated");
    r.maker = set.at("maker");
    r.period = set.at("period");
    r.advice = json.at("advice");
    return r;
  } catch (const Json::exception&) {
    return {};
  }
}

fs::path OutputFolder::Json(const Entry& e) const {
  return folder / "json" / (e.output_name + ".json");
}
fs::path OutputFolder::Pdf(const Entry& e) const {
  return folder / "pdf" / (e.output_name + ".pdf");
}
fs::path OutputFolder::Thumbnail(const Entry& e) const {
  return folder / "thumbnails" / (e.output_name + ".svg");
}
fs::path OutputFolder::Pair(const Entry& e) const {
  return folder / "pairs" / (e.output_name + ".svg");
}
fs::path OutputFolder::RecordOf(const Entry& e) const {
  return folder / "records" / (e.output_name + ".json");
}

std::optional<Record> OutputFolder::Load(const Entry& entry) const {
  const auto text = LoadFile(RecordOf(entry), kLargestRecord, "batch");
  if (!text) return {};
  auto record = ParseRecord(*text);
  if (!record) return {};
  // What the record tells of, it has to have written.
  if (record->outcome == Outcome::kCompared && !record->files.contains("json")) return {};
  if (!record->pdf.empty() && !record->files.contains("pdf")) return {};
  if (record->thumbnail && !record->files.contains("thumbnails")) return {};
  if (record->pair && !record->files.contains("pairs")) return {};
  for (const fs::path& file : FilesOf(entry)) {
    const auto written = record->files.find(file.parent_path().filename().string());
    if (written == record->files.end()) continue;
    const auto bytes = LoadFile(file, kLargestOutput, "batch");
    if (!bytes || Sha256Hex(*bytes) != written->second) return {};
  }
  return record;
}

std::vector<fs::path> OutputFolder::FilesOf(const Entry& e) const {
  return {RecordOf(e), Json(e), Pdf(e), Thumbnail(e), Pair(e)};
}

std::vector<std::string> OutputFolder::OfOthers(const std::vector<Entry>& entries,
                                                const std::vector<fs::path>& more) const {
  std::set<fs::path> known(more.begin(), more.end());
  for (const Entry& entry : entries) {
    for (fs::path& file : FilesOf(entry)) known.insert(std::move(file));
  }
  std::vector<std::string> others;
  for (const char* part : {"json", "pdf", "thumbnails", "pairs", "records", "dossiers"}) {
    std::error_code error;
    for (const auto& file : fs::directory_iterator(folder / part, error)) {
      if (!known.contains(file.path())) {
        others.push_back((fs::path(part) / file.path().filename()).string());
      }
    }
  }
  std::sort(others.begin(), others.end());
  return others;
}

}  // namespace debossier::batch
