#include "report/report_fields.h"

#include <fmt/format.h>

#include <algorithm>

#include "base/files.h"
#include "base/text_forms.h"

namespace debossier::report {

namespace {

constexpr std::size_t kMostBytes = 400;
constexpr std::size_t kMostRemarks = 2000;
constexpr std::uint64_t kMostFile = 65536;

std::string KnownNames() {
  std::string names;
  for (const FieldName& field : FieldNames()) {
    names += (names.empty() ? "" : ", ") + std::string(field.name);
  }
  return names;
}

}  // namespace

const std::array<FieldName, 9>& FieldNames() {
  static const std::array<FieldName, 9> names = {{
      {"report-number", &ReportFields::number, "Unique number of the report"},
      {"laboratory", &ReportFields::laboratory, "Name and address of who issues the report"},
      {"examiner", &ReportFields::examiner, "Who examined the photo"},
      {"client", &ReportFields::client, "For whom, and how to reach them"},
      {"item", &ReportFields::item, "What was examined, in words"},
      {"received", &ReportFields::received, "When the photo came, as 2026-05-01", true},
      {"examined", &ReportFields::examined, "When it was examined, as 2026-05-01", true},
      {"issued", &ReportFields::issued, "When the report is issued, as 2026-05-01", true},
      {"remarks", &ReportFields::remarks, "The examiner's own remarks, printed as theirs"},
  }};
  return names;
}

Result<std::monostate> ReportFields::Check() const {
  for (const FieldName& field : FieldNames()) {
    const std::string& value = this->*field.value;
    const std::size_t most = field.value == &ReportFields::remarks ? kMostRemarks : kMostBytes;
    if (value.size() > most) {
      return Refuse(ErrorCode::kUsage, "report", field.name, "is too long",
                    fmt::format("give at most {} bytes", most));
    }
    if (field.is_date && !value.empty() && !IsIsoDate(value)) {
      return Refuse(ErrorCode::kUsage, "report", field.name,
                    fmt::format("\"{}\" is no date", value), "write year-month-day: 2026-05-01");
    }
  }
  return std::monostate{};
}

Result<ReportFields> LoadReportFields(const std::string& file) {
  const auto text = LoadFile(file, kMostFile, "report");
  if (!text) return PassOn(text);
  const auto given = KeyFileGroup(*text, "report", file);
  if (!given) return PassOn(given);
  ReportFields fields;
  for (const auto& entry : *given) {
    const auto known =
        std::find_if(FieldNames().begin(), FieldNames().end(),
                     [&](const FieldName& field) { return field.name == entry.first; });
    if (known == FieldNames().end()) {
      return Refuse(ErrorCode::kUsage, "report", file,
                    fmt::format("\"{}\" is no field", entry.first),
                    "the fields are " + KnownNames());
    }
    fields.*(known->value) = entry.second;
  }
  if (auto checked = fields.Check(); !checked) {
    Error error = checked.error();
    error.message = error.where + " " + error.message;
    error.where = file;
    return Unexpected(std::move(error));
  }
  return fields;
}

ReportFields Over(const ReportFields& under, const ReportFields& over) {
  ReportFields fields = under;
  for (const FieldName& field : FieldNames()) {
    if (!(over.*(field.value)).empty()) fields.*(field.value) = over.*(field.value);
  }
  return fields;
}

}  // namespace debossier::report
