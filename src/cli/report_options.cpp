#include "cli/commands.h"

namespace debossier::cli {

void ReportOptions::AddTo(CLI::App& command, bool one_photo) {
  command.add_option("--report-settings", file,
                     "Key file with a group [report] that names laboratory, examiner, client and "
                     "the like; options given here go before it");
  for (const report::FieldName& field : report::FieldNames()) {
    const bool of_one =
        field.value == &report::ReportFields::number || field.value == &report::ReportFields::item;
    if (of_one && !one_photo) continue;
    command.add_option(std::string("--") + field.name, given.*(field.value), field.help)
        ->group("Report");
  }
}

Result<report::ReportFields> ReportOptions::Fields() const {
  if (auto checked = given.Check(); !checked) {
    Error error = checked.error();
    error.where = "--" + error.where;
    return Unexpected(std::move(error));
  }
  if (file.empty()) return given;
  auto under = report::LoadReportFields(file);
  if (!under) return PassOn(under);
  return report::Over(*under, given);
}

}  // namespace debossier::cli
