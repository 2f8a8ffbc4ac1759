// UFO folders that mean harm: each is refused by its code, within a second of processor time and
// 200 MB.
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/stat.h>

#include <cmath>
#include <ctime>
#include <random>

#include "outline/checked_xml.h"
#include "outline/ufo.h"
#include "support/scratch_folder.h"

namespace debossier::outline {
namespace {

namespace fs = std::filesystem;

#ifdef DEBOSSIER_SANITIZE
constexpr bool kSanitized = true;
#else
constexpr bool kSanitized = false;
#endif

/// A copy of the editor's sample, one file of which a test then spoils.
class HostileUfo : public ::testing::Test {
 protected:
  HostileUfo() {
    fs::copy(fs::path(DEBOSSIER_TEST_DATA) / "ufo" / "editor.ufo", folder_,
             fs::copy_options::recursive);
  }

  void Spoil(const std::string& file, std::string_view bytes) { Put(folder_ / file, bytes); }

  /// Puts points into the glyph "dot".
  void SpoilPoints(const std::string& points) {
    Spoil("glyphs/dot.glif", "<glyph name=\"dot\" format=\"2\"><outline><contour>" + points +
                                 "</contour></outline></glyph>");
  }

  /// Replaces the first `what` in a file.
  void Replace(const std::string& file, const std::string& what, const std::string& with) {
    std::string bytes = Slurp(folder_ / file);
    const std::size_t at = bytes.find(what);
    ASSERT_NE(at, std::string::npos);
    Spoil(file, bytes.replace(at, what.size(), with));
  }

  void ExpectRefused(ErrorCode code, const std::string& message_part) {
    const double before = ProcessorSeconds();
    const auto font = LoadUfo(folder_);
    const double took = ProcessorSeconds() - before;
    ASSERT_FALSE(font) << "was read";
    EXPECT_EQ(font.error().code, code) << font.error().ToString();
    EXPECT_NE(font.error().message.find(message_part), std::string::npos)
        << font.error().ToString();
    EXPECT_FALSE(font.error().hint.empty());
    EXPECT_LT(took, kSanitized ? 10 : 1);
    struct rusage usage {};
    ::getrusage(RUSAGE_SELF, &usage);
    if (!kSanitized) {
      EXPECT_LT(usage.ru_maxrss, 200'000) << "kilobytes";
    }
  }

  /// Of this process, so that what runs beside it does not count.
  static double ProcessorSeconds() { return static_cast<double>(std::clock()) / CLOCKS_PER_SEC; }

  ScratchFolder scratch_;
  fs::path folder_ = scratch_.path() / "hostile.ufo";
};

TEST_F(HostileUfo, IsReadableBeforeItIsSpoiled) { EXPECT_TRUE(LoadUfo(folder_)); }

TEST_F(HostileUfo, EntityBomb) {
  std::string bomb = "<?xml version=\"1.0\"?>\n<!DOCTYPE glyph [\n<!ENTITY a \"aaaaaaaaaa\">\n";
  for (char c = 'b'; c < 'z'; ++c) {
    bomb += std::string("<!ENTITY ") + c + " \"";
    for (int i = 0; i < 10; ++i) bomb += std::string("&") + static_cast<char>(c - 1) + ";";
    bomb += "\">\n";
  }
  bomb += "]>\n";
  Spoil("glyphs/dot.glif", bomb + "<glyph name=\"&y;\" format=\"2\"/>");
  ExpectRefused(ErrorCode::kSetUnreadable, "entities");
  fs::remove(folder_ / "glyphs/dot.glif");
  Spoil("lib.plist", bomb + "<plist version=\"1.0\"><dict><key>&y;</key><true/></dict></plist>");
  ExpectRefused(ErrorCode::kSetUnreadable, "entities");
}

TEST_F(HostileUfo, EntitiesThatReadOtherFiles) {
  Spoil("fontinfo.plist",
        "<!DOCTYPE plist SYSTEM \"x.dtd\" [<!ENTITY f SYSTEM \"file:///etc/hostname\">]>"
        "<plist><dict><key>note</key><string>&f;</string></dict></plist>");
  ExpectRefused(ErrorCode::kSetUnreadable, "entities");
  Spoil("fontinfo.plist", "<plist><dict><key>note</key><string>&f;</string></dict></plist>");
  ExpectRefused(ErrorCode::kSetUnreadable, "entities");
}

TEST_F(HostileUfo, DocumentTypeThatHidesItsEnd) {
  // Whoever ends the declaration at the first ">" takes what follows for a comment.
  Spoil("lib.plist", "<!DOCTYPE plist PUBLIC \"><!--\" \"x\"><plist><dict/></plist><!-- -->");
  ExpectRefused(ErrorCode::kSetUnreadable, "document type");
}

TEST_F(HostileUfo, NamesThatLeaveTheFolder) {
  Put(scratch_.path() / "outside.glif", Slurp(folder_ / "glyphs/dot.glif"));
  for (const std::string name :
       {"../../outside.glif", "..", "/etc/passwd", "", ".", "..\\..\\outside.glif", "a/b.glif"}) {
    const std::string before = Slurp(folder_ / "glyphs/contents.plist");
    Replace("glyphs/contents.plist", ">dot.glif<", ">" + name + "<");
    ExpectRefused(ErrorCode::kSetUnreadable, "outside the folder");
    Spoil("glyphs/contents.plist", before);
  }
  Replace("layercontents.plist", ">glyphs.background<", ">../glyphs<");
  ExpectRefused(ErrorCode::kSetUnreadable, "outside the folder");
}

TEST_F(HostileUfo, SymbolicLinks) {
  Put(scratch_.path() / "outside.glif", Slurp(folder_ / "glyphs/dot.glif"));
  fs::remove(folder_ / "glyphs/dot.glif");
  fs::create_symlink(scratch_.path() / "outside.glif", folder_ / "glyphs/dot.glif");
  ExpectRefused(ErrorCode::kSetUnreadable, "symbolic link");
  fs::rename(folder_ / "glyphs", scratch_.path() / "moved");
  fs::create_directory_symlink(scratch_.path() / "moved", folder_ / "glyphs");
  ExpectRefused(ErrorCode::kSetUnreadable, "not a folder");
}

TEST_F(HostileUfo, NamedPipeInPlaceOfAFile) {
  fs::remove(folder_ / "glyphs/dot.glif");
  ASSERT_EQ(::mkfifo((folder_ / "glyphs/dot.glif").c_str(), 0600), 0);
  ExpectRefused(ErrorCode::kSetUnreadable, "regular file");
}

TEST_F(HostileUfo, DeepNesting) {
  std::string deep = "<glyph name=\"dot\" format=\"2\">";
  for (int i = 0; i < 1'000'000; ++i) deep += "<lib>";
  Spoil("glyphs/dot.glif", deep);
  ExpectRefused(ErrorCode::kSetUnreadable, "nested deeper");
  std::string closed = "<plist><dict><key>k</key>";
  for (int i = 0; i < 100'000; ++i) closed += "<array>";
  for (int i = 0; i < 100'000; ++i) closed += "</array>";
  Spoil("lib.plist", closed + "</dict></plist>");
  ExpectRefused(ErrorCode::kSetUnreadable, "nested deeper");
}

TEST_F(HostileUfo, NumbersThatAreNone) {
  const std::string numbers[] = {"nan",  "NaN", "inf", "-Infinity", "1e999", "1e300", "1000001",
                                 "0x10", "",    " ",   "1,5",       "12abc", "--1"};
  for (const std::string& number : numbers) {
    SpoilPoints("<point x=\"0\" y=\"0\" type=\"line\"/><point x=\"" + number +
                "\" y=\"1\" type=\"line\"/><point x=\"3\" y=\"3\" type=\"line\"/>");
    ExpectRefused(ErrorCode::kSetUnreadable, "numbers in range");
  }
  SpoilPoints("<point y=\"1\" type=\"line\"/>");
  ExpectRefused(ErrorCode::kSetUnreadable, "numbers in range");
  Spoil("glyphs/dot.glif", "<glyph name=\"dot\" format=\"2\"><advance width=\"nan\"/></glyph>");
  ExpectRefused(ErrorCode::kSetUnreadable, "advance");
  Spoil("glyphs/dot.glif", "<glyph name=\"dot\" format=\"2\"><unicode hex=\"D800\"/></glyph>");
  ExpectRefused(ErrorCode::kSetUnreadable, "code point");
  Replace("fontinfo.plist", "2048", "-inf");
  ExpectRefused(ErrorCode::kSetUnreadable, "unitsPerEm");
}

TEST_F(HostileUfo, TenMillionPoints) {
  {
    std::ofstream file(folder_ / "glyphs/dot.glif", std::ios::binary);
    file << "<glyph name=\"dot\" format=\"2\"><outline><contour>";
    std::string thousand;
    for (int i = 0; i < 1000; ++i) thousand += "<point x=\"1\" y=\"1\"/>";
    for (int i = 0; i < 10'000; ++i) file << thousand;
    file << "</contour></outline></glyph>";
  }
  ExpectRefused(ErrorCode::kOverLimit, "bytes");
}

TEST_F(HostileUfo, MorePointsThanALetterNeeds) {
  std::string points;
  for (int i = 0; i < 20'001; ++i) points += "<point x=\"1\" y=\"1\"/>";
  SpoilPoints(points);
  ExpectRefused(ErrorCode::kSetUnreadable, "more points");
}

TEST_F(HostileUfo, FilesMadeOfTagsOrAttributes) {
  std::string tags = "<glyph name=\"dot\" format=\"2\"><lib>";
  while (tags.size() < 8'000'000) tags += "<a/>";
  Spoil("glyphs/dot.glif", tags + "</lib></glyph>");
  ExpectRefused(ErrorCode::kSetUnreadable, "tags and attributes");
  std::string attributes = "<glyph name=\"dot\" format=\"2\"";
  while (attributes.size() < 8'000'000) attributes += " a=\"\"";
  Spoil("glyphs/dot.glif", attributes + "/>");
  ExpectRefused(ErrorCode::kSetUnreadable, "tags and attributes");
}

TEST_F(HostileUfo, ManyGlyphsFromLittle) {
  std::string same = "<plist><dict>";
  for (int i = 0; i < 2000; ++i) {
    same += fmt::format("<key>g{}</key><string>dot.glif</string>", i);
  }
  Spoil("glyphs/contents.plist", same + "</dict></plist>");
  ExpectRefused(ErrorCode::kSetUnreadable, "twice");
  std::string many = "<plist><dict>";
  for (int i = 0; i < 2001; ++i) {
    many += fmt::format("<key>g{0}</key><string>{0}</string>", i);
  }
  Spoil("glyphs/contents.plist", many + "</dict></plist>");
  ExpectRefused(ErrorCode::kSetUnreadable, "more than 2000 glyphs");
}

TEST_F(HostileUfo, ManyGlyphsThatAreLargeTogether) {
  std::string contents = "<plist><dict>";
  std::string points;
  for (int i = 0; i < 19'000; ++i) points += "<point x=\"1\" y=\"1\"/>";
  for (int i = 0; i < 100; ++i) {
    const std::string name = fmt::format("g{}", i);
    contents += "<key>" + name + "</key><string>" + name + ".glif</string>";
    Spoil("glyphs/" + name + ".glif", "<glyph name=\"" + name +
                                          "\" format=\"2\"><outline><contour>" + points +
                                          "</contour></outline></glyph>");
  }
  Spoil("glyphs/contents.plist", contents + "</dict></plist>");
  ExpectRefused(ErrorCode::kSetUnreadable, "more points");
  for (int i = 0; i < 100; ++i) {
    const std::string name = fmt::format("g{}", i);
    Spoil("glyphs/" + name + ".glif", "<glyph name=\"" + name + "\" format=\"2\"><note>" +
                                          std::string(1'000'000, 'n') + "</note></glyph>");
  }
  ExpectRefused(ErrorCode::kOverLimit, "in all");
}

TEST_F(HostileUfo, ContoursThatDoNotClose) {
  SpoilPoints("<point x=\"0\" y=\"0\" type=\"move\"/><point x=\"9\" y=\"9\" type=\"line\"/>");
  ExpectRefused(ErrorCode::kSetUnreadable, "open contour");
  SpoilPoints("<point x=\"9\" y=\"9\" type=\"line\"/><point x=\"0\" y=\"0\" type=\"move\"/>");
  ExpectRefused(ErrorCode::kSetUnreadable, "open contour");
}

TEST_F(HostileUfo, PointsThatNoSegmentCanUse) {
  const std::string off = "<point x=\"5\" y=\"5\"/>";
  const std::string line = "<point x=\"0\" y=\"0\" type=\"line\"/>";
  SpoilPoints(line + off + line);
  ExpectRefused(ErrorCode::kSetUnreadable, "off-curve");
  SpoilPoints(line + off + off + off + "<point x=\"9\" y=\"0\" type=\"curve\"/>");
  ExpectRefused(ErrorCode::kSetUnreadable, "off-curve");
  SpoilPoints(line + "<point x=\"0\" y=\"0\" type=\"arc\"/>" + line);
  ExpectRefused(ErrorCode::kSetUnreadable, "unknown type");
}

TEST_F(HostileUfo, ComponentsAreRefusedNotDropped) {
  Spoil("glyphs/dot.glif",
        "<glyph name=\"dot\" format=\"2\"><outline><component base=\"dot\"/></outline></glyph>");
  ExpectRefused(ErrorCode::kSetUnreadable, "components");
}

TEST_F(HostileUfo, VersionsOlderAndNewer) {
  const std::string before = Slurp(folder_ / "metainfo.plist");
  Replace("metainfo.plist", "<integer>3<", "<integer>4<");
  ExpectRefused(ErrorCode::kNewerFormat, "newer");
  Spoil("metainfo.plist", before);
  Replace("metainfo.plist", "<integer>3<", "<integer>2<");
  ExpectRefused(ErrorCode::kSetUnreadable, "older");
  Spoil("metainfo.plist", before);
  Spoil("glyphs/dot.glif", "<glyph name=\"dot\" format=\"3\"/>");
  ExpectRefused(ErrorCode::kNewerFormat, "newer");
}

TEST_F(HostileUfo, FilesThatAreMissing) {
  for (const char* file :
       {"glyphs/dot.glif", "glyphs/contents.plist", "layercontents.plist", "metainfo.plist"}) {
    fs::remove(folder_ / file);
    ExpectRefused(ErrorCode::kSetUnreadable, "cannot be opened");
  }
  fs::remove_all(folder_);
  ExpectRefused(ErrorCode::kSetUnreadable, "cannot be opened");
}

TEST_F(HostileUfo, NamesThatDoNotHoldTogether) {
  Replace("glyphs/dot.glif", "name=\"dot\"", "name=\"dash\"");
  ExpectRefused(ErrorCode::kSetUnreadable, "another glyph");
  Replace("glyphs/contents.plist", "<key>lens</key>", "<key>dot</key>");
  ExpectRefused(ErrorCode::kSetUnreadable, "property list");
}

TEST_F(HostileUfo, TruncationIsRefused) {
  for (const char* file : {"glyphs/ring.glif", "metainfo.plist", "glyphs/contents.plist"}) {
    const std::string whole = Slurp(folder_ / file);
    const std::size_t text_end = whole.find_last_of('>');
    for (std::size_t length = 0; length <= text_end; length += 3) {
      Spoil(file, std::string_view(whole).substr(0, length));
      const auto font = LoadUfo(folder_);
      ASSERT_FALSE(font) << file << " cut to " << length << " bytes";
      EXPECT_EQ(font.error().code, ErrorCode::kSetUnreadable);
    }
    Spoil(file, whole);
  }
}

TEST_F(HostileUfo, DamageNeverCrashesNorYieldsNumbersOutOfRange) {
  std::mt19937 random(20240229);
  const std::string whole = Slurp(folder_ / "glyphs/ring.glif");
  int refused = 0;
  for (int round = 0; round < 1000; ++round) {
    std::string damaged = whole;
    for (int hits = 1 + static_cast<int>(random() % 4); hits > 0; --hits) {
      damaged[random() % damaged.size()] = static_cast<char>(random() % 256);
    }
    Spoil("glyphs/ring.glif", damaged);
    const auto font = LoadUfo(folder_);
    if (!font) {
      ++refused;
      continue;
    }
    const Box box = Bounds(font->glyphs.front().outline);
    if (box.empty()) continue;
    ASSERT_LE(box.max.cwiseAbs().maxCoeff(), 1e6);
    ASSERT_LE(box.min.cwiseAbs().maxCoeff(), 1e6);
  }
  EXPECT_GT(refused, 300);
}

TEST(FaultInXml, CountsAtLeastTheDepthTheParserBuilds) {
  // Random strings over the characters that matter to both; where the check passes with a limit,
  // the parsed tree is no deeper, even where the parser gives up half-way.
  std::mt19937 random(7);
  const std::string_view bits[] = {"<a>",  "</a>",
                                   "<a/>", "<!--",
                                   "-->",  "<?a ",
                                   "?>",   "<![CDATA[",
                                   "]]>",  "\"",
                                   "'",    "=",
                                   "a",    "/",
                                   ">",    "&lt;",
                                   "<a b", " b=\"",
                                   "\">",  "<b ",
                                   "[",    "<!DOCTYPE plist",
                                   " "};
  const auto depth_of = [](const auto& self, const pugi::xml_node& node) -> int {
    int deepest = 0;
    for (const pugi::xml_node& child : node.children()) {
      if (child.type() == pugi::node_element) deepest = std::max(deepest, 1 + self(self, child));
    }
    return deepest;
  };
  XmlLimits limits;
  limits.max_depth = 2;
  int passed = 0;
  for (int round = 0; round < 300'000; ++round) {
    std::string xml;
    for (int n = static_cast<int>(random() % 14); n >= 0; --n)
      xml += bits[random() % std::size(bits)];
    if (!FaultInXml(xml, DocumentType::kPropertyList, limits).empty()) continue;
    ++passed;
    pugi::xml_document document;
    (void)document.load_buffer(xml.data(), xml.size(), pugi::parse_default, pugi::encoding_utf8);
    ASSERT_LE(depth_of(depth_of, document), limits.max_depth) << xml;
  }
  EXPECT_GT(passed, 2000);
}

}  // namespace
}  // namespace debossier::outline
