// What the closing pages of a photo's report and of an item's dossier share.
//
// Frame: page points, y down.
#pragma once

#include <string>

#include "report/chapter.h"
#include "report/report_fields.h"

namespace debossier::report {

/// Who examined what for whom; what is not given is left blank.
void AddReport(Chapter& chapter, const ReportFields& fields, const std::string& number);
/// How lettering is measured and compared.
void AddMethod(Chapter& chapter);
void AddCautions(Chapter& chapter);
/// What the examiner adds, apart from what was measured; signature and end.
void AddOpinion(Chapter& chapter, const ReportFields& fields, const std::string& number);

/// The photo in the upper part of the panel, a box about its lettering; returns its lower edge.
double DrawWholePhoto(Canvas& canvas, const Material& material, const Rect& panel);

}  // namespace debossier::report
