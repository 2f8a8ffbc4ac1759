// The overview of a batch: `batch.csv` for other programs, `index.html` for people.
//
// Photos come one by one, in the plan's order, so that only the text of the rows is kept.
// Photos of one item compared with one set come together in one row: it departs if any photo
// departs; else no departure was found if that holds for any photo; else it cannot be told. Each
// photo is tested at its own false-flag rate, so that an item with n photos told has a chance of a
// false flag of up to n times that rate; rows say so, nothing is corrected.
// Both files depend on the plan and the records only.
// Not for: computing findings.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "batch/dossiers.h"
#include "batch/plan.h"
#include "batch/record.h"
#include "report/examine.h"

namespace debossier::batch {

/// What the photos of one item say together about one set.
struct ItemSummary {
  std::size_t photos = 0;
  std::size_t departs = 0;
  std::size_t no_departure_found = 0;
  std::size_t cannot_tell = 0;
  std::size_t left_out = 0;  ///< Refused, failed or not done.

  void Add(const Record& record);
  /// A finding's name, or "not-compared" where no photo was compared.
  std::string Finding() const;
  /// Upper limit of the chance that a genuine item is flagged.
  double FalseFlagChance(double rate_per_photo) const;
};

class Overview {
 public:
  explicit Overview(const report::ExamineOptions& options);
  /// `is_new`: since the last run that came to its end.
  void Add(const Entry& entry, const Record& record, bool is_new = false);
  /// Shows the dossiers of items beside them.
  void SetDossiers(const Dossiers& dossiers) { dossiers_ = dossiers; }
  std::string Csv() const;
  std::string Html() const;

 private:
  using ItemAndSet = std::pair<std::string, std::string>;
  void AddCsv(const Entry& entry, const Record& record, bool is_new);
  void AddRow(const Entry& entry, const Record& record, bool is_new);
  std::string ItemTable() const;
  /// The dossier's finding where there is one.
  std::string ItemFinding(const std::string& name, const ItemSummary& item) const;
  std::string Filters() const;
  std::string Counts() const;
  std::string Explanation() const;

  report::ExamineOptions options_;
  std::string csv_;
  std::string rows_;
  std::map<std::string, std::string> sets_;  ///< Id, and what the set is in words.
  std::map<ItemAndSet, ItemSummary> items_;
  ItemSummary all_;
  std::map<Outcome, std::size_t> outcomes_;
  std::optional<Dossiers> dossiers_;
  std::size_t new_ = 0;  ///< Photos since the last run.
  bool any_simulated_ = false;
};

/// `text` on one line with the characters escaped that HTML would read.
std::string HtmlText(const std::string& text);

/// A source for Content-Security-Policy that permits exactly this inline text (CSP level 2).
std::string HashSource(std::string_view text);

}  // namespace debossier::batch
