// The overview page as a person uses it, in headless Chromium: sorting, filtering and opening a
// result among 1,000 rows.
#include <fmt/format.h>

#include <cstdlib>

#include "base/files.h"
#include "batch/overview.h"
#include "batch/scratch.h"

namespace debossier::batch {
namespace {

using compare::Finding;

const char* const kHostile = "<script>document.title='run'</script>.jpg";

// 1,000 photos: every fifth departs, every seventh of the others is refused, two sets.
Record RecordOf(int i) {
  Record record;
  if (i % 5 != 0 && i % 7 == 0) {
    record.outcome = Outcome::kRefused;
    record.code = 7;
    record.message = "no stamped lettering was seen";
    return record;
  }
  record.outcome = Outcome::kCompared;
  record.pdf = "a4";
  record.thumbnail = true;
  record.pair = i % 5 == 0;
  record.finding = i % 5 == 0   ? Finding::kDeparts
                   : i % 3 == 0 ? Finding::kCannotTell
                                : Finding::kNoDepartureFound;
  record.summary = "Summary <b>of</b> this photo.";
  if (i % 5 == 0) {
    record.largest = 0.5 + (i * 37 % 1000) / 50.0;
    record.largest_measure = "gap";
  }
  return record;
}

using IndexPageTest = ScratchTest;

TEST_F(IndexPageTest, ThousandRowsSortFilterAndOpen) {
  if (std::system("command -v chromedriver >/dev/null && command -v chromium >/dev/null && "
                  "command -v python3 >/dev/null") != 0) {
    GTEST_SKIP() << "chromium, chromium-driver or python3 is not installed";
  }
  std::filesystem::create_directories(out() / "pdf");
  std::filesystem::create_directories(out() / "json");
  std::filesystem::create_directories(out() / "thumbnails");
  std::filesystem::create_directories(out() / "pairs");
  report::ExamineOptions options;
  options.pdf_policy = report::PdfPolicy::kDepartures;
  Overview overview(options);
  for (int i = 0; i < 1000; ++i) {
    Entry entry;
    entry.name = i == 500 ? kHostile : fmt::format("photo-{:04d}.jpg", i * 389 % 1000);
    entry.set = i % 2 == 0 ? "orbenna" : "kelmare";
    entry.item = fmt::format("bag {}", i / 4);
    if (i == 17) entry.notes = "needle in the notes";
    entry.output_name = OutputName(entry);
    overview.Add(entry, RecordOf(i), i % 50 == 0);
    std::ofstream(out() / "json" / (entry.output_name + ".json")) << "{\"photo\": " << i << "}";
    std::ofstream(out() / "pdf" / (entry.output_name + ".pdf")) << "%PDF-1.5";
    for (const char* folder : {"thumbnails", "pairs"}) {
      std::ofstream(out() / folder / (entry.output_name + ".svg"))
          << "<svg xmlns='http://www.w3.org/2000/svg' width='36' height='9'/>";
    }
  }
  ASSERT_TRUE(WriteFileWhole(out() / "index.html", overview.Html(), IfExists::kRefuse, "test"));
  // The script prints each check that fails.
  const std::string command =
      fmt::format("python3 '{}/batch/use_index_page.py' '{}' '{}'", DEBOSSIER_TESTS,
                  (out() / "index.html").string(), (folder_ / "profile").string());
  EXPECT_EQ(std::system(command.c_str()), 0) << command;
}

}  // namespace
}  // namespace debossier::batch
