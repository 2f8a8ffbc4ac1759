#include "batch/overview.h"

#include <fmt/format.h>

#include "base/text_forms.h"
#include "base/unicode.h"
#include "base/version.h"
#include "batch/csv.h"

namespace debossier::batch {

namespace {

std::string FileIn(const char* folder, const std::string& name, const char* kind) {
  return fmt::format("{}/{}.{}", folder, name, kind);
}

}  // namespace

void ItemSummary::Add(const Record& record) {
  ++photos;
  if (record.outcome != Outcome::kCompared) {
    ++left_out;
    return;
  }
  departs += record.finding == compare::Finding::kDeparts;
  no_departure_found += record.finding == compare::Finding::kNoDepartureFound;
  cannot_tell += record.finding == compare::Finding::kCannotTell;
}

std::string ItemSummary::Finding() const {
  if (departs > 0) return compare::Name(compare::Finding::kDeparts);
  if (no_departure_found > 0) return compare::Name(compare::Finding::kNoDepartureFound);
  if (cannot_tell > 0) return compare::Name(compare::Finding::kCannotTell);
  return "not-compared";
}

double ItemSummary::FalseFlagChance(double rate_per_photo) const {
  return std::min(1.0, rate_per_photo * static_cast<double>(photos - left_out));
}

Overview::Overview(const report::ExamineOptions& options) : options_(options) {
  csv_ = CsvLine({"photo",
                  "item",
                  "set",
                  "crop",
                  "notes",
                  "outcome",
                  "finding",
                  "score",
                  "largest_departure_percent",
                  "largest_departure_measure",
                  "reason",
                  "summary",
                  "advice",
                  "code",
                  "message",
                  "hint",
                  "cap_height_px",
                  "width",
                  "height",
                  "set_revision",
                  "set_items",
                  "false_flag_rate",
                  "version",
                  "sha256",
                  "json",
                  "pdf",
                  "thumbnail",
                  "pair",
                  "new"});
}

void Overview::Add(const Entry& entry, const Record& record, bool is_new) {
  all_.Add(record);
  ++outcomes_[record.outcome];
  if (!entry.item.empty()) items_[{entry.item, entry.set}].Add(record);
  std::string& words = sets_[entry.set];
  if (record.outcome == Outcome::kCompared && words.empty()) {
    words =
        record.maker + (record.maker.empty() || record.period.empty() ? "" : ", ") + record.period;
    if (!words.empty()) words += "; ";
    words += fmt::format("revision {}, ", record.refset_revision);
    words += record.refset_items == 0   ? "from a font, without verified items"
             : record.refset_items == 1 ? "1 verified item"
                                        : fmt::format("{} verified items", record.refset_items);
  }
  any_simulated_ = any_simulated_ || record.refset_simulated;
  new_ += is_new ? 1 : 0;
  AddCsv(entry, record, is_new);
  AddRow(entry, record, is_new);
}

void Overview::AddCsv(const Entry& entry, const Record& r, bool is_new) {
  const bool compared = r.outcome == Outcome::kCompared;
  const auto only = [](bool given, const std::string& text) { return given ? text : ""; };
  const auto number = [&](bool given, double value, int decimals) {
    return only(given, fmt::format("{:.{}f}", value, decimals));
  };
  const auto text = [](const std::string& t) { return NoFormula(t); };
  const bool pdf = compared && !r.pdf.empty() && report::WantsPdf(options_.pdf_policy, r.finding);
  csv_ += CsvLine({text(entry.name),
                   text(entry.item),
                   entry.set,
                   entry.crop,
                   text(entry.notes),
                   Name(r.outcome),
                   only(compared, compare::Name(r.finding)),
                   number(compared, r.score, 2),
                   number(r.largest.has_value(), r.largest.value_or(0), 2),
                   r.largest_measure,
                   text(r.reason),
                   text(r.summary),
                   text(r.advice),
                   only(r.code != 0, fmt::format("{}", r.code)),
                   text(r.message),
                   text(r.hint),
                   number(compared, r.cap_height_px, 1),
                   only(r.width > 0, fmt::format("{}", r.width)),
                   only(r.height > 0, fmt::format("{}", r.height)),
                   only(compared, fmt::format("{}", r.refset_revision)),
                   only(compared, fmt::format("{}", r.refset_items)),
                   only(compared, fmt::format("{:g}", options_.compare.false_flag_rate)),
                   only(r.outcome != Outcome::kNotDone, kVersion),
                   r.sha256,
                   only(compared, FileIn("json", entry.output_name, "json")),
                   only(pdf, FileIn("pdf", entry.output_name, "pdf")),
                   only(r.thumbnail, FileIn("thumbnails", entry.output_name, "svg")),
                   only(r.pair, FileIn("pairs", entry.output_name, "svg")),
                   only(is_new, "yes")});
}

std::string Overview::Csv() const { return csv_; }

std::string HtmlText(const std::string& text) { return MarkupText(OneLine(text)); }

}  // namespace debossier::batch
