// The source tree keeps to the layers that DEVELOPERS.md describes.
#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <map>
#include <regex>
#include <set>
#include <sstream>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;

using Names = std::set<std::string>;

const fs::path kSource = DEBOSSIER_SOURCE;

std::string Contents(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  EXPECT_TRUE(file) << path;
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

std::vector<std::string> Lines(const std::string& text) {
  std::vector<std::string> lines;
  std::istringstream stream(text);
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

/// Words of lower-case letters in `text`.
Names Words(const std::string& text) {
  static const std::regex kWord("[a-z]+");
  return Names(std::sregex_token_iterator(text.begin(), text.end(), kWord),
               std::sregex_token_iterator());
}

/// The table below "## Layers": what each layer uses by itself.
std::map<std::string, Names> LayerTable() {
  static const std::regex kRow(R"(\|\s*([a-z]+)\s*\|([a-z, ]*)\|.*)");
  std::map<std::string, Names> table;
  bool in_section = false;
  for (const std::string& line : Lines(Contents(kSource / "DEVELOPERS.md"))) {
    if (line.starts_with("## ")) in_section = line == "## Layers";
    std::smatch row;
    if (!in_section || !std::regex_match(line, row, kRow) || row[1] == "layer") continue;
    EXPECT_TRUE(table.emplace(row[1], Words(row[2])).second) << "twice in the table: " << row[1];
  }
  return table;
}

/// The calls of debossier_layer() in src/CMakeLists.txt: what each layer links by itself.
std::map<std::string, Names> LinkedLayers() {
  static const std::regex kCall(R"(\ndebossier_layer\(([a-z]+)([^)]*)\))");
  static const std::regex kUses(R"(USES((\s+[a-z]+)+))");
  const std::string text = Contents(kSource / "src" / "CMakeLists.txt");
  std::map<std::string, Names> linked;
  for (std::sregex_iterator call(text.begin(), text.end(), kCall); call != std::sregex_iterator();
       ++call) {
    const std::string arguments = (*call)[2];
    std::smatch uses;
    const bool uses_any = std::regex_search(arguments, uses, kUses);
    linked[(*call)[1]] = uses_any ? Words(uses[1]) : Names();
  }
  return linked;
}

/// `layer`'s own layers and theirs.
Names Closure(const std::string& layer, const std::map<std::string, Names>& linked) {
  Names all;
  if (!linked.contains(layer)) return all;
  for (const std::string& used : linked.at(layer)) {
    all.insert(used);
    all.merge(Closure(used, linked));
  }
  return all;
}

struct Include {
  fs::path file;      ///< Relative to src.
  std::string layer;  ///< Of the file that includes.
  std::string name;   ///< What stands between the quotes or brackets.
};

std::vector<Include> Includes() {
  static const std::regex kInclude(R"(\s*#\s*include\s*[<"]([^>"]+)[>"].*)");
  std::vector<Include> includes;
  for (const auto& entry : fs::recursive_directory_iterator(kSource / "src")) {
    const std::string kind = entry.path().extension();
    if (kind != ".h" && kind != ".cpp") continue;
    const fs::path file = fs::relative(entry.path(), kSource / "src");
    for (const std::string& line : Lines(Contents(entry.path()))) {
      std::smatch match;
      if (line.find("include") > 20 || !std::regex_match(line, match, kInclude)) continue;
      includes.push_back({file, file.begin()->string(), match[1]});
    }
  }
  return includes;
}

TEST(LayersTest, TableIsThere) {
  const auto table = LayerTable();
  ASSERT_GE(table.size(), 5u);
  EXPECT_TRUE(table.at("base").empty());
}

TEST(LayersTest, EveryFolderWithSourcesIsInTheTable) {
  const auto table = LayerTable();
  for (const Include& include : Includes()) {
    EXPECT_TRUE(table.contains(include.layer)) << include.file;
  }
}

TEST(LayersTest, LibrariesLinkWhatTheTablePermits) {
  const auto table = LayerTable();
  const auto linked = LinkedLayers();
  for (const auto& [layer, uses] : linked) {
    ASSERT_TRUE(table.contains(layer)) << layer;
    EXPECT_EQ(uses, table.at(layer)) << layer;
  }
  for (const auto& [layer, uses] : table) {
    EXPECT_TRUE(linked.contains(layer)) << layer;
  }
}

TEST(LayersTest, FilesIncludeWhatTheTablePermits) {
  const auto table = LayerTable();
  int checked = 0;
  for (const Include& include : Includes()) {
    const std::string used = include.name.substr(0, include.name.find('/'));
    if (!table.contains(used) || used == include.name) continue;
    ++checked;
    if (used == include.layer || !table.contains(include.layer)) continue;
    EXPECT_TRUE(Closure(include.layer, table).contains(used))
        << include.file << " includes " << include.name;
  }
  EXPECT_GT(checked, 10);
}

TEST(LayersTest, LibrariesStayInTheirLayers) {
  struct Rule {
    std::string start;  ///< Of the include.
    Names only;         ///< Layers that may have it; empty: all but `never`.
    Names never;
  };
  const std::vector<Rule> rules = {
      {"cairo", {"drawing"}, {}},
      {"pango/", {"drawing"}, {}},
      {"jpeglib", {"image"}, {}},
      {"png.h", {"image"}, {}},
      {"tiffio", {"image"}, {}},
      {"webp/", {"image"}, {}},
      // It loads a hundred libraries, which takes longer than comparing a photo.
      {"opencv2/imgcodecs", {"none"}, {}},
      {"opencv2/", {}, {"base", "outline"}},
      // Instruments of the tests.
      {"simulate/", {"none"}, {}},
      {"accuracy/", {"none"}, {}},
  };
  for (const Include& include : Includes()) {
    for (const Rule& rule : rules) {
      if (!include.name.starts_with(rule.start)) continue;
      const bool permitted = rule.only.empty() ? !rule.never.contains(include.layer)
                                               : rule.only.contains(include.layer);
      EXPECT_TRUE(permitted) << include.file << " includes " << include.name;
    }
  }
}

TEST(LayersTest, TopLevelHoldsNothingElse) {
  Names permitted = {"CMakeLists.txt", "README.md", "DEVELOPERS.md", "src",
                     "glyphs",         "refsets",   "tests",         "examples"};
  // Folders that git ignores, such as builds: lines of the form /name/.
  for (const std::string& line : Lines(Contents(kSource / ".gitignore"))) {
    if (line.starts_with('/') && line.ends_with('/')) {
      permitted.insert(line.substr(1, line.size() - 2));
    }
  }
  for (const auto& entry : fs::directory_iterator(kSource)) {
    const std::string name = entry.path().filename();
    EXPECT_TRUE(name.starts_with('.') || permitted.contains(name)) << name;
  }
}

}  // namespace
