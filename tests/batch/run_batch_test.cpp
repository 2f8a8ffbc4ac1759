// Whole batches on the example photos: outcomes, going on, order, bytes.
#include "batch/run_batch.h"

#include <fmt/format.h>

#include <opencv2/core.hpp>

#include "batch/overview.h"
#include "batch/progress.h"
#include "batch/scratch.h"
#include "refset/curate.h"

namespace debossier::batch {
namespace {

namespace fs = std::filesystem;

class RunBatchTest : public ScratchTest {
 protected:
  void SetUp() override {
    ScratchTest::SetUp();
    cv::setNumThreads(1);
    library_ = DEBOSSIER_SOURCE;
    options_.jobs = 2;
    options_.examine.pdf_policy = report::PdfPolicy::kDepartures;
  }
  Tally RunIt() { return RunPlan(PlanFromFolder(in(), {"orbenna", {}, {}})); }
  Tally RunPlan(const Result<Plan>& plan) {
    EXPECT_TRUE(plan) << (plan ? "" : plan.error().ToString());
    const auto sets = LoadSets({library_}, *plan);
    EXPECT_TRUE(sets) << (sets ? "" : sets.error().ToString());
    const auto tally = RunBatch(*plan, *sets, out(), options_, stop_, on_step_);
    EXPECT_TRUE(tally) << (tally ? "" : tally.error().ToString());
    return tally ? *tally : Tally{};
  }
  // Every file of the output by its path within, but for the lock.
  std::map<std::string, std::string> Files() const {
    std::map<std::string, std::string> files;
    for (const auto& entry : fs::recursive_directory_iterator(out())) {
      const std::string name = entry.path().lexically_relative(out()).string();
      if (entry.is_regular_file() && name != ".lock") files[name] = Contents(entry.path());
    }
    return files;
  }
  void PutThree() const {
    PutExample("departing.jpg", "orbenna/departing.jpg");
    PutExample("genuine.jpg", "orbenna/genuine.jpg");
    PutExample("sub/genuine.jpg", "orbenna/verified-0001.jpg");
  }

  fs::path library_;
  BatchOptions options_;
  std::atomic<bool> stop_{false};
  OnStep on_step_;
};

TEST_F(RunBatchTest, BadPhotosNeverStopTheRest) {
  PutThree();
  Put("empty.jpg", "");
  Put("<script>alert(1)<$script>.jpg", "no picture");
  Put("half.jpg", Contents(Example("orbenna/genuine.jpg")).substr(0, 20'000));
  Put(fmt::format("{:n>251}.jpg", ""), "text");
  Put("new\nline \"quoted\" \xff.jpg", "text");
  PutExample("other.jpg", "kelmare/genuine.jpg");
  const Tally tally = RunIt();
  EXPECT_EQ(tally.total, 9u);
  EXPECT_EQ(tally.compared, 3u);
  EXPECT_EQ(tally.departs, 1u);
  EXPECT_EQ(tally.no_departure_found, 2u);
  EXPECT_EQ(tally.refused, 6u);
  EXPECT_EQ(tally.failed, 0u);
  ASSERT_EQ(tally.left_out.size(), 6u);
  for (const LeftOut& left_out : tally.left_out) EXPECT_FALSE(left_out.message.empty());
  const auto files = Files();
  const std::string& page = files.at("index.html");
  EXPECT_EQ(page.find("<script>alert"), std::string::npos);
  EXPECT_NE(page.find("&lt;script&gt;alert(1)"), std::string::npos);
  EXPECT_EQ(page.find('\xff'), std::string::npos);
  for (const auto& [name, bytes] : files) EXPECT_FALSE(bytes.empty()) << name;
}

TEST_F(RunBatchTest, DoneIsNotDoneAgainUnlessSomethingChanged) {
  PutThree();
  EXPECT_EQ(RunIt().reused, 0u);
  const auto first = Files();
  EXPECT_EQ(RunIt().reused, 3u);
  EXPECT_EQ(Files(), first);
  // Another photo under the same name, and a report that went missing.
  PutExample("genuine.jpg", "orbenna/verified-0002.jpg");
  EXPECT_EQ(RunIt().reused, 2u);
  for (const auto& entry : fs::directory_iterator(out() / "pdf")) fs::remove(entry.path());
  EXPECT_EQ(RunIt().reused, 2u);
  // Other options: a rate, then reports for all.
  options_.examine.compare.false_flag_rate = 0.01;
  EXPECT_EQ(RunIt().reused, 0u);
  options_.examine.pdf_policy = report::PdfPolicy::kAll;
  EXPECT_EQ(RunIt().reused, 1u) << "the departing one has its report";
  options_.examine.pdf.paper = report::Paper::kLetter;
  EXPECT_EQ(RunIt().reused, 0u);
  options_.examine.pdf_policy = report::PdfPolicy::kNone;
  EXPECT_EQ(RunIt().reused, 3u);
  EXPECT_EQ(Files().at("index.html").find("pdf/"), std::string::npos);
  // A damaged record is no record.
  std::ofstream(fs::directory_iterator(out() / "records")->path()) << "{\"format\": ";
  EXPECT_EQ(RunIt().reused, 2u);
}

TEST_F(RunBatchTest, ChangedSetIsComparedAgain) {
  PutThree();
  library_ = folder_ / "library";
  fs::create_directories(library_);
  fs::copy(fs::path(DEBOSSIER_SOURCE) / "refsets", library_ / "refsets",
           fs::copy_options::recursive);
  fs::copy(fs::path(DEBOSSIER_SOURCE) / "glyphs", library_ / "glyphs", fs::copy_options::recursive);
  RunIt();
  EXPECT_EQ(RunIt().reused, 3u);
  // A next revision; a change by hand is refused.
  refset::ChangeOptions keep;
  keep.keep_outlines = true;
  const auto changed = refset::RetireItem({library_}, "orbenna", "item1", keep,
                                          {"B. Curator", "2026-06-01", "the receipt is lost"});
  ASSERT_TRUE(changed) << changed.error().ToString();
  EXPECT_EQ(RunIt().reused, 0u);
}

TEST_F(RunBatchTest, TwoWorkersGiveTheBytesOfOne) {
  PutThree();
  for (int i = 1; i <= 5; ++i) {
    PutExample(fmt::format("verified-{}.jpg", i), fmt::format("orbenna/verified-000{}.jpg", i));
  }
  options_.examine.pdf_policy = report::PdfPolicy::kAll;
  options_.jobs = 1;
  RunIt();
  const auto one = Files();
  EXPECT_EQ(one.size(), 4u + 5u * 8u);
  fs::remove_all(out());
  fs::rename(in(), folder_ / "moved");
  fs::rename(folder_ / "moved", in());
  options_.jobs = 4;
  RunIt();
  const auto four = Files();
  ASSERT_EQ(four.size(), one.size());
  for (const auto& [name, bytes] : one) EXPECT_TRUE(four.at(name) == bytes) << name;
}

TEST_F(RunBatchTest, StopsAfterThePhotosInWorkAndGoesOn) {
  PutThree();
  options_.jobs = 1;
  on_step_ = [this](const Step&) { stop_ = true; };
  const Tally stopped = RunIt();
  EXPECT_EQ(stopped.compared, 1u);
  EXPECT_EQ(stopped.not_done, 2u);
  EXPECT_NE(Contents(out() / "batch.csv").find("not-done"), std::string::npos);
  EXPECT_NE(Contents(out() / "index.html").find("Not done yet"), std::string::npos);
  stop_ = false;
  on_step_ = nullptr;
  const Tally rest = RunIt();
  EXPECT_EQ(rest.reused, 1u);
  EXPECT_EQ(rest.compared, 3u);
}

TEST_F(RunBatchTest, ItemsComeTogether) {
  PutThree();
  PutExample("k.jpg", "kelmare/genuine.jpg");
  // One goes away between the plan and the work.
  PutExample("absent.jpg", "orbenna/verified-0003.jpg");
  const auto plan = PlanFromManifest(
      "photo,item,set\ngenuine.jpg,bag 1,\ndeparting.jpg,bag 1,\nsub/genuine.jpg,bag 2,\n"
      "k.jpg,<i>3</i>,kelmare\nabsent.jpg,bag 2,\n",
      "m.csv", in(), {"orbenna", {}, {}});
  fs::remove(in() / "absent.jpg");
  const Tally tally = RunPlan(plan);
  EXPECT_EQ(tally.compared, 4u);
  EXPECT_EQ(tally.failed, 1u);
  EXPECT_EQ(tally.left_out.at(0).line, 6);
  const std::string page = Contents(out() / "index.html");
  EXPECT_NE(page.find("2 photos (departs: 1, no departure found: 1)"), std::string::npos);
  EXPECT_NE(page.find("2 photos (no departure found: 1, not compared: 1)"), std::string::npos);
  EXPECT_NE(page.find("up to 1 %"), std::string::npos) << "two photos at 1 in 200 each";
  EXPECT_EQ(page.find("<i>3</i>"), std::string::npos);
  // Absent photos are looked for again.
  PutExample("absent.jpg", "orbenna/verified-0003.jpg");
  EXPECT_EQ(
      RunPlan(PlanFromManifest("photo\nabsent.jpg\n", "m.csv", in(), {"orbenna", {}, {}})).compared,
      1u);
}

// Nothing of an earlier state stays beside a new record, and nothing changed by hand is believed.
TEST_F(RunBatchTest, WhatNoLongerBelongsGoesOrIsNamed) {
  PutThree();
  options_.examine.pdf_policy = report::PdfPolicy::kDepartures;
  const auto run = [&] { return RunPlan(PlanFromFolder(in(), {"orbenna", {}, out()})); };
  EXPECT_EQ(run().departs, 1u);
  const auto plan = PlanFromFolder(in(), {"orbenna", {}, out()});
  const auto departing =
      std::find_if(plan->entries.begin(), plan->entries.end(),
                   [](const Entry& entry) { return entry.name == "departing.jpg"; });
  ASSERT_NE(departing, plan->entries.end());
  const OutputFolder folder{out()};
  ASSERT_TRUE(fs::exists(folder.Pdf(*departing)));
  // Changed by hand: each of the four files makes the photo be done again, and comes back.
  for (const auto& file : {folder.Json(*departing), folder.Pdf(*departing),
                           folder.Thumbnail(*departing), folder.Pair(*departing)}) {
    const std::string good = Contents(file);
    std::ofstream(file, std::ios::app) << " ";
    EXPECT_EQ(run().reused, 2u) << file;
    EXPECT_EQ(Contents(file), good) << file;
    EXPECT_EQ(run().reused, 3u) << file;
  }
  // The photo no longer departs: its report goes.
  PutExample("departing.jpg", "orbenna/genuine.jpg");
  EXPECT_EQ(run().departs, 0u);
  EXPECT_TRUE(fs::exists(folder.Json(*departing)));
  EXPECT_FALSE(fs::exists(folder.Pdf(*departing)));
  // It is no photo any more: its result goes too.
  std::ofstream(in() / "departing.jpg", std::ios::trunc) << "no photo";
  EXPECT_EQ(run().refused, 1u);
  EXPECT_FALSE(fs::exists(folder.Json(*departing)));
  // It is gone: what is left of it is named.
  fs::remove(in() / "departing.jpg");
  const Tally rest = run();
  EXPECT_EQ(rest.of_others,
            std::vector<std::string>{"records/" + departing->output_name + ".json"});
  EXPECT_NE(EndInWords(rest, out()).find(rest.of_others.front()), std::string::npos);
}

TEST_F(RunBatchTest, WhatIsNewSinceTheLastRunIsMarked) {
  const auto marked = [&] {
    const std::string page = Contents(out() / "index.html");
    std::size_t count = 0;
    for (auto at = page.find(" data-new>"); at != std::string::npos;
         at = page.find(" data-new>", at + 1)) {
      ++count;
    }
    return count;
  };
  PutThree();
  RunIt();
  EXPECT_EQ(marked(), 0u) << "there was no run before";
  PutExample("later.jpg", "orbenna/verified-0002.jpg");
  PutExample("again.jpg", "orbenna/genuine.jpg");
  // A run that is stopped does not count as one: what it did is new still.
  options_.jobs = 1;
  on_step_ = [this](const Step& step) { stop_ = step.entry.name == "again.jpg"; };
  EXPECT_GT(RunIt().not_done, 0u);
  EXPECT_EQ(marked(), 0u) << "a copy under another name is not new";
  stop_ = false;
  on_step_ = nullptr;
  RunIt();
  EXPECT_EQ(marked(), 1u);
  EXPECT_NE(Contents(out() / "batch.csv").find(",yes\r\n"), std::string::npos);
  EXPECT_NE(Contents(out() / "index.html").find("id=\"by-new\""), std::string::npos);
  RunIt();
  EXPECT_EQ(marked(), 0u);
  // One that cannot be read is as none.
  for (const char* text : {"", "[]", "{\"format\": 3}", "{\"photos\": {}}"}) {
    std::ofstream(out() / "seen.json", std::ios::trunc) << text;
    RunIt();
    EXPECT_EQ(marked(), 0u) << text;
  }
}

TEST_F(RunBatchTest, ItemsHaveTheirDossiers) {
  PutThree();
  Put("broken.jpg", "no picture");
  options_.dossiers = true;
  const auto plan = PlanFromManifest(
      "photo,item,notes\ngenuine.jpg,bag 1,front\ndeparting.jpg,<u>2</u>,\n"
      "sub/genuine.jpg,bag 1,inside\nbroken.jpg,bag 3,\n",
      "m.csv", in(), {"orbenna", {}, {}});
  const Tally first = RunPlan(plan);
  EXPECT_EQ(first.dossiers, 2u);
  ASSERT_EQ(first.without_dossier.size(), 1u);
  EXPECT_EQ(first.without_dossier[0].first, "bag 3");
  EXPECT_NE(EndInWords(first, out()).find("no dossier of bag 3: none of its photos"),
            std::string::npos);
  EXPECT_TRUE(first.of_others.empty());
  const auto files = Files();
  std::vector<std::string> dossiers;
  for (const auto& [name, bytes] : files) {
    if (name.starts_with("dossiers/")) dossiers.push_back(name);
  }
  EXPECT_EQ(dossiers.size(), 6u);
  const std::string& page = files.at("index.html");
  EXPECT_EQ(page.find("<u>2</u>"), std::string::npos);
  EXPECT_NE(page.find("href=\"dossiers/bag_1-"), std::string::npos);
  // Done before; changed by hand; other notes.
  EXPECT_EQ(RunPlan(plan).dossiers_reused, 2u);
  EXPECT_EQ(Files(), files);
  for (const std::string& name : dossiers) {
    std::ofstream(out() / name, std::ios::app) << " x";
    EXPECT_EQ(RunPlan(plan).dossiers_reused, 1u) << name;
    EXPECT_EQ(Files(), files) << name;
  }
  const auto noted =
      PlanFromManifest("photo,item,notes\ngenuine.jpg,bag 1,lid\nsub/genuine.jpg,bag 1,inside\n",
                       "m.csv", in(), {"orbenna", {}, {}});
  const Tally less = RunPlan(noted);
  EXPECT_EQ(less.dossiers_reused, 0u);
  EXPECT_EQ(less.dossiers, 1u);
  EXPECT_GT(less.of_others.size(), 3u) << "those of the other items are named";
  // Stopped: what is missing is told, and done by the next run.
  stop_ = true;
  EXPECT_EQ(RunPlan(plan).dossiers_not_done, 3u);
  stop_ = false;
  EXPECT_EQ(RunPlan(plan).dossiers, 2u);
}

TEST_F(RunBatchTest, ForeignNewerAndLockedFoldersAreRefused) {
  PutThree();
  const auto plan = PlanFromFolder(in(), {"orbenna", {}, {}});
  const auto sets = LoadSets({library_}, *plan);
  const auto code = [&] {
    const auto run = RunBatch(*plan, *sets, out(), options_, stop_, nullptr);
    return run ? 0 : ExitCode(run.error().code);
  };
  fs::create_directories(out());
  std::ofstream(out() / "mine.txt") << "kept";
  EXPECT_EQ(code(), 14);
  EXPECT_EQ(Files().size(), 1u);
  fs::remove(out() / "mine.txt");
  std::ofstream(out() / "batch.json") << R"({"format": "debossier-batch", "version": 2})";
  EXPECT_EQ(code(), 11);
  fs::remove(out() / "batch.json");
  std::ofstream(out() / ".77.3.part") << "left by a kill";
  int inner = 0;
  on_step_ = [&](const Step&) { inner = inner == 0 ? code() : inner; };
  RunIt();
  EXPECT_EQ(inner, 13) << "a second run while one runs";
  EXPECT_FALSE(fs::exists(out() / ".77.3.part"));
}

TEST(ItemSummaryTest, StrongestFindingWins) {
  Record departs, none, cannot, refused;
  departs.outcome = none.outcome = cannot.outcome = Outcome::kCompared;
  departs.finding = compare::Finding::kDeparts;
  none.finding = compare::Finding::kNoDepartureFound;
  cannot.finding = compare::Finding::kCannotTell;
  refused.outcome = Outcome::kRefused;
  ItemSummary item;
  item.Add(refused);
  EXPECT_EQ(item.Finding(), "not-compared");
  EXPECT_EQ(item.FalseFlagChance(0.005), 0);
  item.Add(cannot);
  EXPECT_EQ(item.Finding(), "cannot-tell");
  item.Add(none);
  EXPECT_EQ(item.Finding(), "no-departure-found");
  item.Add(departs);
  EXPECT_EQ(item.Finding(), "departs");
  EXPECT_DOUBLE_EQ(item.FalseFlagChance(0.005), 0.015);
}

// Content Security Policy's own example of a script and its hash (there with the letters '-' and
// '_', which mean '+' and '/').
TEST(HashSourceTest, ExampleOfTheStandard) {
  EXPECT_EQ(HashSource("alert('Hello, world.');"),
            "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='");
}

}  // namespace
}  // namespace debossier::batch
