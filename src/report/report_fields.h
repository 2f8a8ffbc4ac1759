// Who examined what, for whom, and when: what a report of a testing laboratory names beside its
// results (ISO/IEC 17025:2017, 7.8.2).
//
// From the command line and a settings file; nothing is guessed, and what is not given stays blank
// in the report, to be written by hand.
// Not for: anything that a result depends on.
#pragma once

#include <array>
#include <string>
#include <variant>

#include "base/result.h"

namespace debossier::report {

struct ReportFields {
  std::string number;      ///< The report's unique identification; empty: made from its contents.
  std::string laboratory;  ///< Name and address of who issues it.
  std::string examiner;
  std::string client;    ///< For whom it was examined, with a way to reach them.
  std::string item;      ///< What was examined, in words.
  std::string received;  ///< Dates as YYYY-MM-DD.
  std::string examined;
  std::string issued;
  std::string remarks;  ///< Printed as the examiner's own words.

  /// Refuses with kUsage what is too long or no date, naming the field.
  Result<std::monostate> Check() const;
};

/// A field's name, as in the settings file and on the command line, and what it is.
struct FieldName {
  const char* name;
  std::string ReportFields::*value;
  const char* help;
  bool is_date = false;
};
const std::array<FieldName, 9>& FieldNames();

/// Reads the group [report] of a key file (UTF-8, "examiner = A. Name"). Refuses with kFileMissing,
/// kUsage naming the file and the key.
Result<ReportFields> LoadReportFields(const std::string& file);

/// What is given in `over`, else what is in `under`.
ReportFields Over(const ReportFields& under, const ReportFields& over);

}  // namespace debossier::report
