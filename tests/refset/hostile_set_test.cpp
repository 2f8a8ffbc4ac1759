// Sets that somebody else prepared: refused within a second, naming the file.
#include <cstdlib>
#include <ctime>

#include "refset/curate.h"
#include "refset/sample_set.h"

namespace debossier::refset {
namespace {

namespace fs = std::filesystem;

class HostileSets : public InLibrary {
 protected:
  void SetUp() override {
    InLibrary::SetUp();
    ASSERT_TRUE(WriteNewSet(library(), SmallSet("sample", 3)));
    ChangeOptions options;
    options.keep_outlines = true;
    ASSERT_TRUE(
        RetireItem(library(), "sample", "item1", options, {"B. Curator", "2026-06-01", "why"}));
    current_ = Bytes(File("sample", 0));
    first_ = Bytes(File("sample", 1));
  }
  void TearDown() override {
    Put(File("sample", 0), current_);
    Put(File("sample", 1), first_);
    InLibrary::TearDown();
  }

  /// `text` in place of a revision's file must be refused, with that file's name.
  void Refused(int revision, const std::string& text, ErrorCode code = ErrorCode::kSetUnreadable) {
    const fs::path file = File("sample", revision);
    const std::string good = Bytes(file);
    Put(file, text);
    // Of the processor: what else the machine does is no fault of the reader.
    const std::clock_t start = std::clock();
    const auto set = LoadSet(library(), "sample", revision);
    const double took = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
    ASSERT_FALSE(set) << text.substr(0, 200);
    EXPECT_EQ(set.error().code, code) << set.error().ToString();
    EXPECT_NE(set.error().ToString().find(file.string()), std::string::npos)
        << set.error().ToString();
    EXPECT_LT(took, 1.0) << text.substr(0, 200);
    Put(file, good);
  }
  /// The same with one place exchanged, in the current revision and in the first.
  void RefusedWith(const std::string& from, const std::string& to) {
    for (const int revision : {0, 1}) {
      std::string text = revision == 0 ? current_ : first_;
      const auto at = text.find(from);
      ASSERT_NE(at, std::string::npos) << from;
      Refused(revision, text.replace(at, from.size(), to));
    }
  }

  std::string current_;
  std::string first_;
};

TEST_F(HostileSets, NumbersThatAreNone) {
  RefusedWith("\"value\": 0.2", "\"value\": 1e999");
  RefusedWith("\"value\": 0.2", "\"value\": NaN");
  RefusedWith("\"value\": 0.2", "\"value\": -Infinity");
  RefusedWith("\"value\": 0.2", "\"value\": 1e300, \"v\": 0");
  RefusedWith("\"undone_to\": 0", "\"undone_to\": 99999999999999999999");
  RefusedWith("\"line\": 0", "\"line\": 7");
  RefusedWith("\"line\": 0", "\"line\": -1");
  RefusedWith("\"revision\": ", "\"revision\": 1e9, \"r\": ");
}

TEST_F(HostileSets, NamesThatLeadOut) {
  RefusedWith("sample-r1.ufo", "../../glyphs/sample-r1.ufo");
  RefusedWith("sample-r1.ufo", "..");
  RefusedWith("sample-r1.ufo", "/etc");
  RefusedWith("\"kept\": \"\"", "\"kept\": \"../../../secret.jpg\"");
  RefusedWith("\"id\": \"sample\"", "\"id\": \"../sample\"");
  EXPECT_EQ(LoadSet(library(), "sample/../sample").error().code, ErrorCode::kUsage);
}

TEST_F(HostileSets, AskedForWhatNoPhotoShows) {
  for (const char* essential : {"[\"lid\"]", "\"lid\"", "7", "[[]]", "{\"mark\": 1}"}) {
    RefusedWith("\"place\": 0.03",
                std::string("\"essential\": ") + essential + ", \"place\": 0.03");
  }
}

TEST_F(HostileSets, SizeAndDepth) {
  for (const int revision : {0, 1}) {
    Refused(revision, "");
    Refused(revision, std::string(200000, '['));
    Refused(revision, "{\"format\":" + std::string(200000, '{'));
    Refused(revision, current_.substr(0, current_.size() / 2));
    std::string many = "{\"format\": \"debossier-refset\", \"version\": 2";
    for (int i = 0; many.size() < (4u << 20); ++i) many += ",\"" + std::to_string(i) + "\":0";
    Refused(revision, many + "}");
    Refused(revision, std::string((16u << 20) + 1, ' '), ErrorCode::kOverLimit);
  }
}

// What a person with an editor would do to a set in use: every kind of command says which file.
TEST_F(HostileSets, ChangesByHandShow) {
  const fs::path record = File("sample", 2);
  const std::string recorded = Bytes(record);
  const std::string sum = Bytes(HashFile(record));
  ASSERT_EQ(recorded, current_);
  const auto changed = [&](const std::string& from, const std::string& to) {
    std::string text = current_;
    const auto at = text.find(from);
    EXPECT_NE(at, std::string::npos) << from;
    return text.replace(at, from.size(), to);
  };
  const auto named = [&](const fs::path& file) {
    for (const auto& error :
         {LoadSet(library(), "sample").error(), LoadSet(library(), "sample", 1).error(),
          LoadSetRecord(library(), "sample").error(), History(library(), "sample").error(),
          Undo(library(), "sample", 1, {"B", "2026-06-01", ""}).error()}) {
      EXPECT_EQ(error.code, ErrorCode::kSetUnreadable) << error.ToString();
      EXPECT_EQ(error.where, file.string()) << error.ToString();
    }
  };
  for (const auto& text : {changed("0.22", "0.27"), changed("receipt", "bought new")}) {
    Put(File("sample", 0), text);  // the current revision alone
    named(File("sample", 0));
    Put(File("sample", 0), current_);
    Put(record, text);  // its record alone
    named(record);
    Put(File("sample", 0), text);  // both, with the hash as it was
    named(File("sample", 0));
    Put(File("sample", 0), current_);
    Put(record, recorded);
  }
  fs::remove(record);
  named(record);
  Put(record, recorded);
  Put(HashFile(record), std::string(64, '0') + sum.substr(64));
  named(File("sample", 0));
  Put(HashFile(record), sum);
  EXPECT_TRUE(LoadSet(library(), "sample"));
}

// The hash is one that a general tool reads (GNU coreutils, sha256sum -c).
TEST_F(HostileSets, HashesAreOfAGeneralTool) {
  const std::string command = "cd " + (library().set("sample") / "revisions").string() +
                              " && sha256sum --strict --check --quiet *.sha256";
  EXPECT_EQ(std::system(command.c_str()), 0);
  Put(File("sample", 1), first_ + " ");
  EXPECT_NE(std::system((command + " 2> /dev/null").c_str()), 0);
}

TEST_F(HostileSets, NoItemsOrOneTwice) {
  std::string text = current_;
  const auto first = text.find("\"item2\"");
  const auto second = text.find("\"item3\"");
  ASSERT_TRUE(first != std::string::npos && second != std::string::npos);
  Refused(0, text.replace(second, 7, "\"item2\""));
  text = current_;
  const std::string one = Sha256Hex("item2.jpg"), other = Sha256Hex("item3.jpg");
  Refused(0, text.replace(text.find(other), 64, one));
  auto none = nlohmann::json::parse(current_);
  none["items"] = nlohmann::json::array();
  Refused(0, none.dump());
}

TEST_F(HostileSets, HistoryCannotBeRewritten) {
  // A well-formed first revision, but not the one that the second was made from.
  std::string text = first_;
  text.replace(text.find("receipt"), 7, "RECEIPT");
  Refused(1, text);
  Put(File("sample", 1), text);
  EXPECT_EQ(History(library(), "sample").error().code, ErrorCode::kSetUnreadable);
  EXPECT_EQ(Undo(library(), "sample", 1, {"B", "2026-06-01", ""}).error().code,
            ErrorCode::kSetUnreadable);
  EXPECT_TRUE(LoadSet(library(), "sample"));  // the current one stands
  Put(File("sample", 1), first_);
  // Outlines that are not the ones the set was written with.
  const fs::path glif = library().set("sample") / "outlines/sample-r1.ufo/glyphs/wordmark.1.glif";
  const std::string good = Bytes(glif);
  std::string moved = good;
  const auto at = moved.find("y=\"700\"");
  ASSERT_NE(at, std::string::npos) << good;
  Put(glif, moved.replace(at, 7, "y=\"710\""));
  const auto other = LoadSet(library(), "sample");
  ASSERT_FALSE(other);
  EXPECT_EQ(other.error().code, ErrorCode::kSetUnreadable);
  EXPECT_NE(other.error().ToString().find("sample-r1.ufo"), std::string::npos);
  Put(glif, good);
  EXPECT_TRUE(LoadSet(library(), "sample"));
}

}  // namespace
}  // namespace debossier::refset
