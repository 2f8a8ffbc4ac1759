// What Cairo cannot write into a PDF document: words for its pictures, its language, and an
// identification of its contents.
//
// By QPDF, which keeps pages and pictures as they are and packs the rest.
// Not for: PDF/A: no tool that checks it is among the packages, so none is claimed.
#pragma once

#include <string>
#include <vector>

#include "base/result.h"

namespace debossier::report {

/// `figures`: words for each structure element "Figure", in the order of the structure
/// (ISO 32000-1:2008, 14.9.3). The same input gives the same bytes. Refuses with kInternal where
/// the document cannot be read or has another number of figures.
Result<std::string> Described(const std::string& pdf, const std::vector<std::string>& figures);

}  // namespace debossier::report
