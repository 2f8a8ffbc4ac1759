// Comma-separated values as RFC 4180 has them, in and out.
//
// Read: fields parted by commas, records by CRLF (a lone LF or CR too), fields with commas, line
// ends or quotes within quotes, a quote doubled. A UTF-8 byte order mark before the header is
// passed over; empty lines between records too.
// Written: CRLF, quotes only where needed. A text that a spreadsheet would run as a formula gets an
// apostrophe before it, because file names come from strangers.
// Not for: semicolons or tabs between fields; ParseCsv says so where it sees them.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "base/result.h"

namespace debossier::batch {

struct CsvRecord {
  int line = 1;  ///< Where the record begins; the first line of the file is 1.
  std::vector<std::string> fields;
};

/// All records with the header first. Refuses with kManifestUnsound, naming the line.
Result<std::vector<CsvRecord>> ParseCsv(std::string_view text, const std::string& where);

/// One record with its line end.
std::string CsvLine(const std::vector<std::string>& fields);

/// `text` as a field: an apostrophe goes before a text that begins like a formula.
std::string NoFormula(const std::string& text);

}  // namespace debossier::batch
