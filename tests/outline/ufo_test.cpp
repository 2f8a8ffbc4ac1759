// UFO 3: what an editor writes is read, what is read is written, and FontForge agrees.
#include "outline/ufo.h"

#include <gtest/gtest.h>
#include <unistd.h>

#include <cmath>
#include <cstdio>
#include <limits>
#include <map>
#include <numbers>

#include "support/scratch_folder.h"

namespace debossier::outline {
namespace {

namespace fs = std::filesystem;
using std::numbers::pi;

fs::path Sample(const std::string& name) { return fs::path(DEBOSSIER_TEST_DATA) / "ufo" / name; }

Outline ScaledTo(const Outline& outline, double factor) {
  Affine map;
  map.linear *= factor;
  return Transformed(outline, map);
}

/// A font as this project writes it: letters with counters, fractions, several code points.
UfoFont SmallFont() {
  UfoFont font;
  font.family_name = "Sample & <Sons>";
  font.note = "Drawn for a test.\nSecond line, \xC3\xA9 and \"quotes\".";
  font.x_height = 512.25;
  Outline ring{{Ellipse({0.5, 0.5}, 0.5, 0.5), Reversed(Ellipse({0.5, 0.5}, 0.3, 0.35))}};
  Outline block{{FromPolyline({{0, 0}, {0.5, 0}, {0.5, 1}, {0, 1}}),
                 Reversed(FromPolyline({{0.1, 0.6}, {0.4, 0.6}, {0.25, 0.9}}))}};
  font.glyphs.push_back({"O", {U'O', U'0'}, 700, ScaledTo(ring, 700)});
  font.glyphs.push_back({"o", {U'o'}, 512.125, ScaledTo(ring, 512.125)});
  font.glyphs.push_back({"space", {U' '}, 200, {}});
  font.glyphs.push_back({"A", {U'A'}, 1. / 3, ScaledTo(block, 700)});
  return font;
}

std::map<std::string, std::string> FilesIn(const fs::path& folder) {
  std::map<std::string, std::string> files;
  for (const auto& entry : fs::recursive_directory_iterator(folder)) {
    if (entry.is_regular_file()) {
      files[fs::relative(entry.path(), folder).string()] = Slurp(entry.path());
    }
  }
  return files;
}

TEST(LoadUfo, ReadsWhatAnEditorWrites) {
  const auto font = LoadUfo(Sample("editor.ufo"));
  ASSERT_TRUE(font) << font.error().ToString();
  EXPECT_EQ(font->family_name, "Sample & Co \xC3\xA9");
  EXPECT_EQ(font->units_per_em, 2048);
  EXPECT_EQ(font->cap_height, 720);
  EXPECT_EQ(font->ascender, 812.5);
  // In glyphOrder, then what it leaves out; names it has in excess are passed over.
  ASSERT_EQ(font->glyphs.size(), 4u);
  EXPECT_EQ(font->glyphs[0].name, "ring");
  EXPECT_EQ(font->glyphs[1].name, "dot");
  EXPECT_EQ(font->glyphs[2].name, "lens");
  EXPECT_EQ(font->glyphs[3].name, "I");
  EXPECT_EQ(font->glyphs[0].unicodes, (std::vector<char32_t>{U'O', U'0'}));
  EXPECT_EQ(font->glyphs[0].advance, 620.5);
  EXPECT_EQ(font->glyphs[1].advance, 0);
}

TEST(LoadUfo, TakesContoursAsTheSpecificationClosesThem) {
  const auto font = LoadUfo(Sample("editor.ufo"));
  ASSERT_TRUE(font) << font.error().ToString();
  // A circle of radius 300 that begins off the curve, less a square counter of side 200 of which
  // one side is a "curve" without off-curve points, that is a line.
  const Outline& ring = font->glyphs[0].outline;
  ASSERT_EQ(ring.contours.size(), 2u);
  EXPECT_NEAR(SignedArea(ring.contours[0]), pi * 300 * 300, 5.6e-4 * pi * 300 * 300);
  EXPECT_EQ(SignedArea(ring.contours[1]), -40000);
  // Four off-curve points alone: quadratics between implied midpoints. Each parabola cuts a third
  // of the triangle (50 * 50 / 2) off its corner (Archimedes).
  EXPECT_NEAR(SignedArea(font->glyphs[1].outline), 10000 - 4 * 1250. / 3, 1e-9);
  EXPECT_EQ(font->glyphs[1].outline.contours[0].segments.size(), 4u);
  // Above, two quadratics with an implied point at (50, 60): 3000 + 2 * 2/3 * 1500; below, a
  // "curve" with one off-curve point, a quadratic: 2/3 * 3000.
  EXPECT_NEAR(SignedArea(font->glyphs[2].outline), 7000, 1e-9);
  EXPECT_NEAR(Bounds(font->glyphs[2].outline).min.y(), -30, 1e-12);
  // A contour of one point is an anchor of GLIF 1.
  ASSERT_EQ(font->glyphs[3].outline.contours.size(), 1u);
  EXPECT_EQ(SignedArea(font->glyphs[3].outline), 72000);
}

TEST(WriteUfo, RoundTripsWithinHalfAThousandth) {
  const ScratchFolder scratch;
  const UfoFont font = SmallFont();
  const auto written = WriteUfo(font, scratch.path() / "small.ufo");
  ASSERT_TRUE(written) << written.error().ToString();
  const auto back = LoadUfo(scratch.path() / "small.ufo");
  ASSERT_TRUE(back) << back.error().ToString();
  EXPECT_EQ(back->family_name, font.family_name);
  EXPECT_EQ(back->note, font.note);
  EXPECT_EQ(back->x_height, font.x_height);
  ASSERT_EQ(back->glyphs.size(), font.glyphs.size());
  for (std::size_t g = 0; g < font.glyphs.size(); ++g) {
    EXPECT_EQ(back->glyphs[g].name, font.glyphs[g].name);
    EXPECT_EQ(back->glyphs[g].unicodes, font.glyphs[g].unicodes);
    EXPECT_NEAR(back->glyphs[g].advance, font.glyphs[g].advance, 5e-4);
    const auto& before = font.glyphs[g].outline.contours;
    const auto& after = back->glyphs[g].outline.contours;
    ASSERT_EQ(after.size(), before.size());
    for (std::size_t c = 0; c < before.size(); ++c) {
      EXPECT_LE((after[c].start - before[c].start).cwiseAbs().maxCoeff(), 5.001e-4);
      ASSERT_EQ(after[c].segments.size(), before[c].segments.size());
      for (std::size_t s = 0; s < before[c].segments.size(); ++s) {
        const Segment& a = after[c].segments[s];
        const Segment& b = before[c].segments[s];
        ASSERT_EQ(a.is_line, b.is_line);
        EXPECT_LE((a.end - b.end).cwiseAbs().maxCoeff(), 5.001e-4);
        EXPECT_LE((a.control1 - b.control1).cwiseAbs().maxCoeff(), 5.001e-4);
        EXPECT_LE((a.control2 - b.control2).cwiseAbs().maxCoeff(), 5.001e-4);
      }
    }
  }
}

TEST(WriteUfo, GivesTheFrozenBytes) {
  const ScratchFolder scratch;
  ASSERT_TRUE(WriteUfo(SmallFont(), scratch.path() / "small.ufo"));
  const auto written = FilesIn(scratch.path() / "small.ufo");
  const auto frozen = FilesIn(Sample("written-1.ufo"));
  ASSERT_EQ(frozen.size(), 9u);
  EXPECT_EQ(written, frozen);
  // Reading and writing again changes nothing.
  const auto back = LoadUfo(Sample("written-1.ufo"));
  ASSERT_TRUE(back) << back.error().ToString();
  ASSERT_TRUE(WriteUfo(*back, scratch.path() / "again.ufo"));
  EXPECT_EQ(FilesIn(scratch.path() / "again.ufo"), frozen);
}

TEST(WriteUfo, NeverReplacesAndLeavesNothingBehind) {
  const ScratchFolder scratch;
  const UfoFont font = SmallFont();
  const fs::path there = scratch.path() / "there.ufo";
  fs::create_directory(there);
  EXPECT_EQ(WriteUfo(font, there).error().code, ErrorCode::kOutputExists);
  EXPECT_EQ(WriteUfo(font, there.string() + "/").error().code, ErrorCode::kOutputExists);
  fs::create_symlink("nowhere", scratch.path() / "link.ufo");
  EXPECT_EQ(WriteUfo(font, scratch.path() / "link.ufo").error().code, ErrorCode::kOutputExists);
  EXPECT_EQ(WriteUfo(font, scratch.path() / "absent" / "a.ufo").error().code,
            ErrorCode::kOutputNotWritable);
  UfoFont broken = font;
  broken.glyphs[0].outline.contours[0].start.x() = std::numeric_limits<double>::quiet_NaN();
  EXPECT_EQ(WriteUfo(broken, scratch.path() / "nan.ufo").error().code, ErrorCode::kInternal);
  broken = font;
  broken.glyphs[1].name = "O";
  EXPECT_EQ(WriteUfo(broken, scratch.path() / "twice.ufo").error().code, ErrorCode::kInternal);
  EXPECT_EQ(std::distance(fs::directory_iterator(scratch.path()), {}), 2);
}

TEST(WriteUfo, KeepsGlyphsApartWhoseFileNamesWouldClash) {
  const ScratchFolder scratch;
  UfoFont font;
  for (const char* name : {"a*b", "a?b", "A", "a", "a_"}) font.glyphs.push_back({name, {}, 1, {}});
  ASSERT_TRUE(WriteUfo(font, scratch.path() / "clash.ufo"));
  EXPECT_TRUE(fs::exists(scratch.path() / "clash.ufo/glyphs/a_b000000000000001.glif"));
  const auto back = LoadUfo(scratch.path() / "clash.ufo");
  ASSERT_TRUE(back) << back.error().ToString();
  for (std::size_t i = 0; i < font.glyphs.size(); ++i) {
    EXPECT_EQ(back->glyphs[i].name, font.glyphs[i].name);
  }
}

TEST(GlifFileName, FollowsTheConvention) {
  // The examples of UFO 3, "Conventions", user name to file name.
  const std::pair<const char*, const char*> examples[] = {{"a", "a"},
                                                          {"A", "A_"},
                                                          {"AE", "A_E_"},
                                                          {"Ae", "A_e"},
                                                          {"ae", "ae"},
                                                          {"aE", "aE_"},
                                                          {"a.alt", "a.alt"},
                                                          {"A.alt", "A_.alt"},
                                                          {"A.Alt", "A_.A_lt"},
                                                          {"A.aLt", "A_.aL_t"},
                                                          {"T_H", "T__H_"},
                                                          {"T_h", "T__h"},
                                                          {"t_h", "t_h"},
                                                          {"F_F_I", "F__F__I_"},
                                                          {".notdef", "_notdef"},
                                                          {"con", "_con"},
                                                          {"CON", "C_O_N_"},
                                                          {"con.alt", "_con.alt"},
                                                          {"alt.con", "alt._con"}};
  for (const auto& [name, file] : examples) {
    EXPECT_EQ(GlifFileName(name), std::string(file) + ".glif");
  }
  EXPECT_EQ(GlifFileName("../x"), "_._x.glif");
  EXPECT_EQ(GlifFileName(std::string(1000, 'A')).size(), 205u);
}

/// Runs Debian's Python with FontForge's module; the script's output, empty where it failed.
std::string RunFontForge(const std::string& script) {
  const ScratchFolder scratch;
  Put(scratch.path() / "script.py", script);
  const std::string command =
      "/usr/bin/python3 " + (scratch.path() / "script.py").string() + " 2>/dev/null";
  FILE* pipe = ::popen(command.c_str(), "r");
  std::string output;
  char chunk[4096];
  while (pipe != nullptr && std::fgets(chunk, sizeof chunk, pipe) != nullptr) output += chunk;
  return pipe != nullptr && ::pclose(pipe) == 0 ? output : std::string();
}

TEST(WriteUfo, IsReadByFontForgeWithTheDirectionsMeant) {
  if (RunFontForge("import fontforge\nprint('here')\n").find("here") == std::string::npos) {
    GTEST_SKIP() << "needs python3-fontforge";
  }
  const ScratchFolder scratch;
  const fs::path folder = scratch.path() / "small.ufo";
  ASSERT_TRUE(WriteUfo(SmallFont(), folder));
  const std::string seen = RunFontForge(
      "import fontforge\n"
      "font = fontforge.open('" +
      folder.string() +
      "')\n"
      "print(font.familyname, font.em, font.capHeight)\n"
      "for name in ('O', 'o', 'A'):\n"
      "    glyph = font[name]\n"
      "    for contour in glyph.foreground:\n"
      "        box = ' '.join('%.1f' % v for v in contour.boundingBox())\n"
      "        print(name, glyph.unicode, contour.closed, contour.isClockwise(), box)\n");
  EXPECT_EQ(seen,
            "Sample & <Sons> 1000 700.0\n"
            "O 79 1 0 0.0 0.0 700.0 700.0\n"
            "O 79 1 1 140.0 105.0 560.0 595.0\n"
            "o 111 1 0 0.0 0.0 512.1 512.1\n"
            "o 111 1 1 102.4 76.8 409.7 435.3\n"
            "A 65 1 0 0.0 0.0 350.0 700.0\n"
            "A 65 1 1 70.0 420.0 280.0 630.0\n");
}

TEST(LoadUfo, ReadsWhatFontForgeWrites) {
  const ScratchFolder scratch;
  const fs::path folder = scratch.path() / "forged.ufo";
  const std::string done = RunFontForge(
      "import fontforge\n"
      "font = fontforge.font()\n"
      "glyph = font.createChar(ord('D'))\n"
      "pen = glyph.glyphPen()\n"
      "pen.moveTo((0, 0)); pen.lineTo((300, 0)); pen.curveTo((500, 0), (500, 700), (300, 700))\n"
      "pen.lineTo((0, 700)); pen.closePath(); pen = None\n"
      "glyph.width = 555\n"
      "font.generate('" +
      folder.string() +
      "')\n"
      "print('done')\n");
  if (done.find("done") == std::string::npos) GTEST_SKIP() << "needs python3-fontforge";
  const auto font = LoadUfo(folder);
  ASSERT_TRUE(font) << font.error().ToString();
  const auto glyph = std::find_if(font->glyphs.begin(), font->glyphs.end(),
                                  [](const UfoGlyph& g) { return g.name == "D"; });
  ASSERT_NE(glyph, font->glyphs.end());
  EXPECT_EQ(glyph->advance, 555);
  // 300 * 700, and under the curve the integral of 600 t(1-t) * 4200 t(1-t) = 2520000 B(3,3).
  EXPECT_NEAR(std::abs(SignedArea(glyph->outline)), 210000 + 2520000. / 30, 1e-6);
}

}  // namespace
}  // namespace debossier::outline
