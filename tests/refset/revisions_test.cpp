// Revisions: every change makes a new one, and the old ones stay as they were.
#include <sys/wait.h>

#include <set>

#include "refset/create.h"
#include "refset/curate.h"
#include "refset/edit_copy.h"
#include "refset/lock.h"
#include "refset/outlines.h"
#include "refset/sample_set.h"

namespace debossier::refset {
namespace {

namespace fs = std::filesystem;

const Entry kEntry{"B. Curator", "2026-06-01", "a reason"};

class Revisions : public InLibrary {
 protected:
  static ChangeOptions Keep() {
    ChangeOptions options;
    options.keep_outlines = true;
    return options;
  }
  Result<Changed> Retire(const std::string& item) const {
    return RetireItem(library(), "sample", item, Keep(), kEntry);
  }
  int Current() const { return LoadSetRecord(library(), "sample")->revision; }
};

TEST_F(Revisions, OldOnesStayByteForByte) {
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 4)));
  const std::string first = Bytes(File("sample", 0));
  ASSERT_FALSE(first.empty());
  EXPECT_EQ(Bytes(File("sample", 1)), first);
  ASSERT_TRUE(Retire("item2"));
  const std::string second = Bytes(File("sample", 0));
  EXPECT_EQ(Bytes(File("sample", 2)), second);
  ASSERT_TRUE(Retire("item3"));
  const auto undone = Undo(library(), "sample", 0, kEntry);
  ASSERT_TRUE(undone) << undone.error().ToString();
  EXPECT_EQ(undone->set.revision, 4);
  EXPECT_EQ(Bytes(File("sample", 1)), first);
  EXPECT_EQ(Bytes(File("sample", 2)), second);
  EXPECT_EQ(LoadSet(library(), "sample", 1)->items.size(), 4u);
  EXPECT_EQ(LoadSet(library(), "sample", 3)->items.size(), 2u);
  EXPECT_EQ(LoadSet(library(), "sample")->items.size(), 3u);
  EXPECT_EQ(LoadSet(library(), "sample", 5).error().code, ErrorCode::kSetMissing);
  const auto history = History(library(), "sample");
  ASSERT_TRUE(history) << history.error().ToString();
  ASSERT_EQ(history->size(), 4u);
  const char* kinds[] = {"create", "retire", "retire", "undo"};
  for (int r = 1; r <= 4; ++r) {
    EXPECT_EQ((*history)[r - 1].revision, r);
    EXPECT_EQ((*history)[r - 1].change.kind, kinds[r - 1]);
  }
  EXPECT_EQ((*history)[1].previous_sha256, Sha256Hex(first));
  EXPECT_EQ((*history)[1].retired.at(0).reason, "a reason");
}

TEST_F(Revisions, UndoLosesNothing) {
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 3)));
  EXPECT_EQ(Undo(library(), "sample", 0, kEntry).error().code, ErrorCode::kUsage);
  ASSERT_TRUE(Retire("item1"));
  ASSERT_TRUE(Undo(library(), "sample", 1, kEntry));
  ASSERT_TRUE(Undo(library(), "sample", 2, kEntry));  // the undo undone
  const auto again = LoadSet(library(), "sample");
  ASSERT_TRUE(again);
  EXPECT_EQ(again->items.size(), 2u);
  ASSERT_EQ(again->retired.size(), 1u);
  EXPECT_EQ(again->retired[0].id, "item1");
  const auto third = LoadSet(library(), "sample", 3);
  EXPECT_EQ(third->items.size(), 3u);
  EXPECT_EQ(third->change.undone_to, 1);
  EXPECT_NEAR(third->items[0].features.at("gap wordmark.0 wordmark.1").value, 0.21, 1e-9);
}

TEST_F(Revisions, WhoWhenAndWhyAreAsked) {
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 2)));
  const auto refused = [&](const Entry& entry, const char* hint) {
    const auto done = RetireItem(library(), "sample", "item1", Keep(), entry);
    ASSERT_FALSE(done);
    EXPECT_EQ(done.error().code, ErrorCode::kUsage);
    EXPECT_NE(done.error().ToString().find(hint), std::string::npos) << done.error().ToString();
  };
  refused({"", "2026-06-01", "why"}, "--by");
  refused({"B. Curator", "", "why"}, "--on");
  refused({"B. Curator", "1 June", "why"}, "--on");
  refused({"B. Curator", "2026-13-01", "why"}, "--on");
  refused({"B. Curator", "2026-06-01", ""}, "--reason");
  EXPECT_EQ(Undo(library(), "sample", 0, {"", "2026-06-01", ""}).error().code, ErrorCode::kUsage);
  EXPECT_EQ(Current(), 1);
  ASSERT_TRUE(Retire("item1"));
  EXPECT_EQ(Retire("item1").error().code, ErrorCode::kUsage);  // gone
  EXPECT_EQ(Retire("item2").error().code, ErrorCode::kUsage);  // the last
  EXPECT_EQ(Current(), 2);
}

TEST_F(Revisions, EditedOutlinesAreTaken) {
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 0)));
  const fs::path copy = library().glyphs() / "sample.ufo";
  EXPECT_EQ(AdoptOutlines(library(), "sample", {}, {}, kEntry).error().code, ErrorCode::kUsage);
  auto font = outline::LoadUfo(copy);
  ASSERT_TRUE(font);
  const auto edited = [&](const outline::Affine& change, bool turned = false) {
    outline::UfoFont other = *font;
    other.glyphs[1].outline = outline::Transformed(other.glyphs[1].outline, change);
    for (auto& contour : other.glyphs[1].outline.contours) {
      if (turned) contour = outline::Reversed(contour);
    }
    fs::remove_all(copy);
    EXPECT_TRUE(outline::WriteUfo(other, copy));
    return AdoptOutlines(library(), "sample", {}, {}, kEntry);
  };
  outline::Affine change;
  change.offset = {0, 300};
  const auto far = edited(change);
  ASSERT_FALSE(far);
  EXPECT_NE(far.error().message.find("moved"), std::string::npos) << far.error().ToString();
  change.offset = {0, 0};
  change.linear(0, 0) = 1.1;
  const auto turned = edited(change, true);
  ASSERT_FALSE(turned);
  EXPECT_NE(turned.error().message.find("wrong way"), std::string::npos);
  EXPECT_EQ(Current(), 1);
  const auto taken = edited(change);
  ASSERT_TRUE(taken) << taken.error().ToString();
  EXPECT_EQ(taken->set.revision, 2);
  EXPECT_TRUE(taken->set.outlines_edited);
  const auto width = [&](int revision) {
    return outline::Bounds(LoadSet(library(), "sample", revision)->lettering.elements[1].outline)
        .width();
  };
  EXPECT_NEAR(width(1), 0.15, 1e-5);
  EXPECT_NEAR(width(2), 0.165, 1e-5);
}

// One file to edit, whatever the revision; an edit that was not adopted is never written over.
TEST_F(Revisions, EditsThatWereNotAdoptedStay) {
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 3)));
  const fs::path copy = EditCopy(library(), "sample");
  const auto usual = outline::LoadUfo(copy);
  ASSERT_TRUE(usual);
  const auto edit = [&](double width) {
    outline::UfoFont other = *usual;
    outline::Affine wider;
    wider.linear(0, 0) = width;
    other.glyphs[1].outline = outline::Transformed(other.glyphs[1].outline, wider);
    fs::remove_all(copy);
    ASSERT_TRUE(outline::WriteUfo(other, copy));
  };
  const auto holds = [&] { return Digest(*outline::LoadUfo(copy)); };
  edit(1.1);
  const std::string edited = holds();
  // Tracing again would replace it: told before the photos are asked for.
  const auto refused = RetireItem(library(), "sample", "item1", {}, kEntry);
  ASSERT_FALSE(refused);
  EXPECT_EQ(refused.error().code, ErrorCode::kUsage);
  EXPECT_NE(refused.error().ToString().find("sample.ufo"), std::string::npos);
  EXPECT_NE(refused.error().ToString().find("adopt"), std::string::npos);
  // Where outlines stay, the edit stays.
  ASSERT_TRUE(RetireItem(library(), "sample", "item1", Keep(), kEntry));
  EXPECT_EQ(holds(), edited);
  EXPECT_EQ(Current(), 2);
  // A set from a font keeps its outlines, so that the same file is adopted at revision 3.
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("font", 0)));
  const fs::path other = EditCopy(library(), "font");
  fs::remove_all(other);
  fs::copy(copy, other, fs::copy_options::recursive);
  const auto adopted = AdoptOutlines(library(), "font", {}, {}, kEntry);
  ASSERT_TRUE(adopted) << adopted.error().ToString();
  EXPECT_EQ(Digest(*outline::LoadUfo(other)), adopted->set.outlines_sha256);
  // Back to the first outlines: the copy follows; with an edit in it only after a word.
  fs::remove_all(other);
  EXPECT_TRUE(LoadSet(library(), "font"));
  EXPECT_EQ(Digest(*outline::LoadUfo(other)), adopted->set.outlines_sha256);
  fs::remove_all(other);
  edit(1.2);
  fs::copy(copy, other, fs::copy_options::recursive);
  EXPECT_EQ(Undo(library(), "font", 1, kEntry).error().code, ErrorCode::kUsage);
  ChangeOptions drop;
  drop.drop_edits = true;
  const auto undone = Undo(library(), "font", 1, kEntry, drop);
  ASSERT_TRUE(undone) << undone.error().ToString();
  EXPECT_EQ(Digest(*outline::LoadUfo(other)), undone->set.outlines_sha256);
  // A copy of an earlier revision, as a killed change leaves it, is no edit.
  fs::remove_all(other);
  ASSERT_TRUE(
      outline::WriteUfo(*outline::LoadUfo(library().set("font") / "outlines/font-r2.ufo"), other));
  ASSERT_TRUE(Undo(library(), "font", 2, kEntry));
  EXPECT_EQ(Digest(*outline::LoadUfo(other)), adopted->set.outlines_sha256);
}

TEST_F(Revisions, OneCuratorAtATime) {
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 3)));
  int ready[2];
  int done[2];
  ASSERT_EQ(pipe(ready) + pipe(done), 0);
  const pid_t other = fork();
  if (other == 0) {
    const auto lock = SetLock::Take(library(), "sample", "C. Curator");
    char byte = lock ? 'y' : 'n';
    if (write(ready[1], &byte, 1) != 1 || read(done[0], &byte, 1) != 1) _exit(1);
    _exit(0);
  }
  char byte = 'n';
  ASSERT_EQ(read(ready[0], &byte, 1), 1);
  ASSERT_EQ(byte, 'y');
  const auto busy = Retire("item1");
  ASSERT_FALSE(busy);
  EXPECT_EQ(busy.error().code, ErrorCode::kSetBusy);
  EXPECT_NE(busy.error().message.find("C. Curator"), std::string::npos) << busy.error().ToString();
  EXPECT_TRUE(LoadSet(library(), "sample"));  // readers need no lock
  EXPECT_EQ(Current(), 1);
  ASSERT_EQ(write(done[1], "x", 1), 1);
  int status = 1;
  ASSERT_EQ(waitpid(other, &status, 0), other);
  EXPECT_EQ(status, 0);
  EXPECT_TRUE(Retire("item1"));  // the lock went with its process
  for (const int fd : {ready[0], ready[1], done[0], done[1]}) close(fd);
}

TEST_F(Revisions, TwoAtOnceLoseNoChange) {
  constexpr int kEach = 8;
  ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 3)));
  ASSERT_TRUE(Retire("item1"));
  const auto work = [&](const std::string& name) {
    for (int k = 0; k < kEach;) {
      const auto changed =
          Undo(library(), "sample", 1, {name, "2026-06-01", name + std::to_string(k)});
      if (changed) ++k;
      if (!changed && changed.error().code != ErrorCode::kSetBusy) return false;
      if (!changed) usleep(3000);
    }
    return true;
  };
  const pid_t other = fork();
  if (other == 0) _exit(work("C") ? 0 : 1);
  EXPECT_TRUE(work("B"));
  int status = 1;
  waitpid(other, &status, 0);
  EXPECT_EQ(status, 0);
  const auto history = History(library(), "sample");
  ASSERT_TRUE(history) << history.error().ToString();
  EXPECT_EQ(history->size(), 2u + 2 * kEach);
  std::set<std::string> reasons;
  for (const auto& set : *history) reasons.insert(set.change.reason);
  EXPECT_EQ(reasons.size(), 2u + 2 * kEach);  // two of them: "" and "a reason"
}

// A sample of version 1 as it was released, with its outlines in glyphs/.
TEST_F(Revisions, VersionOneLoadsAndMigrates) {
  fs::copy(std::string(DEBOSSIER_TEST_DATA) + "/refset-1", folder_,
           fs::copy_options::recursive | fs::copy_options::overwrite_existing);
  const std::string as_written = Bytes(File("orbenna", 0));
  const auto before = LoadSet(library(), "orbenna");
  ASSERT_TRUE(before) << before.error().ToString();
  EXPECT_EQ(before->revision, 1);
  ASSERT_EQ(before->items.size(), 6u);
  EXPECT_EQ(before->items[0].entered_by, before->labels.entered_by);
  const auto asked = RetireItem(library(), "orbenna", "item2", {}, kEntry);
  ASSERT_FALSE(asked);  // version 1 kept no photos: they are asked for by name and hash
  EXPECT_EQ(asked.error().code, ErrorCode::kFileMissing);
  EXPECT_NE(asked.error().ToString().find(before->items[0].photo_sha256), std::string::npos);
  const auto after = RetireItem(library(), "orbenna", "item2", Keep(), kEntry);
  ASSERT_TRUE(after) << after.error().ToString();
  EXPECT_EQ(Bytes(File("orbenna", 1)), as_written);
  EXPECT_EQ(after->set.previous_sha256, Sha256Hex(as_written));
  // The outlines came with it: the copy in glyphs/ is no longer needed.
  fs::remove_all(library().glyphs());
  const auto first = LoadSet(library(), "orbenna", 1);
  const auto second = LoadSet(library(), "orbenna");
  ASSERT_TRUE(first) << first.error().ToString();
  ASSERT_TRUE(second) << second.error().ToString();
  EXPECT_EQ(first->items.size(), 6u);
  EXPECT_EQ(second->items.size(), 5u);
  EXPECT_FALSE(second->outlines_sha256.empty());
  for (std::size_t i = 0; i < before->lettering.elements.size(); ++i) {
    const auto a = outline::Bounds(before->lettering.elements[i].outline);
    const auto b = outline::Bounds(second->lettering.elements[i].outline);
    EXPECT_LT((a.min - b.min).norm() + (a.max - b.max).norm(), 1e-12);  // nothing creeps
  }
  const auto back = Undo(library(), "orbenna", 1, kEntry);
  ASSERT_TRUE(back) << back.error().ToString();
  EXPECT_EQ(back->set.items.size(), 6u);
}

// A change of items makes the outlines anew: a set of three less one is the set of two.
TEST_F(Revisions, OutlinesAreMadeAnewFromThePhotosKept) {
  std::vector<image::Photo> photos;
  for (const char* name : {"verified-0001.jpg", "verified-0003.jpg", "verified-0004.jpg"}) {
    auto photo = image::LoadPhoto(std::string(DEBOSSIER_SOURCE) + "/examples/orbenna/" + name);
    ASSERT_TRUE(photo);
    photos.push_back(std::move(*photo));
  }
  reading::TextSpec text;
  text.lines = {{"wordmark", "ORBENNA"}, {"origin", "MADE IN VALDORE"}};
  text.mark = "®";
  CreateOptions options;
  options.id = "sample";
  options.labels.entered_by = "A. Curator";
  options.labels.entered_on = "2026-05-01";
  const std::vector<image::Photo> two(photos.begin(), photos.begin() + 2);
  auto created = CreateFromPhotos(two, text, options);
  ASSERT_TRUE(created) << created.error().ToString();
  std::vector<KeptPhoto> kept;
  for (std::size_t i = 0; i < two.size(); ++i) {
    created->set.items[i].photo_kept = KeptName(two[i]);
    kept.push_back({KeptName(two[i]), two[i].bytes});
  }
  ASSERT_TRUE(WriteNewSet(library(), created->set, kept));
  AddOptions add;
  add.items.push_back({photos[2], "receipt"});
  const auto added = AddItems(library(), "sample", add, kEntry);
  ASSERT_TRUE(added) << added.error().ToString();
  EXPECT_EQ(added->set.items.at(2).id, "item3");
  EXPECT_EQ(AddItems(library(), "sample", add, kEntry).error().code, ErrorCode::kUsage);
  const auto retired = RetireItem(library(), "sample", "item3", {}, kEntry);
  ASSERT_TRUE(retired) << retired.error().ToString();
  const auto first = LoadSet(library(), "sample", 1);
  EXPECT_NE(added->set.outlines_sha256, first->outlines_sha256);
  EXPECT_EQ(retired->set.outlines_sha256, first->outlines_sha256);
  EXPECT_EQ(retired->set.items[0].features.size(), first->items[0].features.size());
  // A number is not used again.
  add.keep_outlines = true;
  const auto again = AddItems(library(), "sample", add, kEntry);
  ASSERT_TRUE(again) << again.error().ToString();
  EXPECT_EQ(again->set.items.at(2).id, "item4");
  EXPECT_FALSE(again->warnings.empty());  // it was retired before
  // A kept photo that was exchanged is noticed.
  const fs::path photo = library().set("sample") / "photos" / KeptName(two[0]);
  ASSERT_TRUE(fs::exists(photo));
  Put(photo, two[1].bytes);
  const auto exchanged = RetireItem(library(), "sample", "item4", {}, kEntry);
  ASSERT_FALSE(exchanged);
  EXPECT_EQ(exchanged.error().code, ErrorCode::kSetUnreadable);
  EXPECT_NE(exchanged.error().ToString().find(KeptName(two[0])), std::string::npos);
  EXPECT_EQ(Current(), 4);
}

}  // namespace
}  // namespace debossier::refset
