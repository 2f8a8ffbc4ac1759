// A small set without photos, a library of its own for each test, and the published schema held
// against every set that a library holds.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>

#include "base/files.h"
#include "outline/ufo.h"
#include "refset/refset.h"
#include "support/json_schema.h"

namespace debossier::refset {

inline std::string Bytes(const std::filesystem::path& path) {
  auto bytes = LoadFile(path, 64u << 20, "test");
  return bytes ? std::move(*bytes) : std::string();
}

inline void Put(const std::filesystem::path& path, const std::string& text) {
  std::ofstream(path, std::ios::trunc | std::ios::binary) << text;
}

/// Two letters of closed form. With items it counts as made from photos, else from a font.
inline RefSet SmallSet(const std::string& id, int items) {
  RefSet set;
  set.id = id;
  set.labels.maker = "Ατελιέ Ορμπέννα";
  set.labels.entered_by = "A. Curator";
  set.labels.entered_on = "2026-05-01";
  set.change.by = set.labels.entered_by;
  set.change.on = set.labels.entered_on;
  set.source = items > 0 ? "photos" : "font Plain";
  set.lettering.lines.push_back({"wordmark", "OI", 0, 1, 0});
  outline::Element o;
  o.id = "wordmark.0";
  o.character = "O";
  o.outline.contours = {outline::Ellipse({0.5, 0.5}, 0.5, 0.5),
                        outline::Reversed(outline::Ellipse({0.5, 0.5}, 0.4, 0.4))};
  outline::Element i;
  i.id = "wordmark.1";
  i.character = "I";
  outline::Box box;
  box.min = {1.2, 0};
  box.max = {1.35, 1};
  i.outline.contours = {outline::Rectangle(box)};
  set.lettering.elements = {o, i};
  for (int k = 1; k <= items; ++k) {
    Item item;
    item.id = "item" + std::to_string(k);
    item.photo_file = item.id + ".jpg";
    item.photo_sha256 = Sha256Hex(item.photo_file);
    item.basis = "receipt";
    item.features["gap wordmark.0 wordmark.1"] = {0.2 + 0.01 * k, 0.002};
    set.items.push_back(item);
  }
  return set;
}

/// What is wrong with the written sets of a library, by the published schema.
inline std::string SchemaFaults(const Library& library) {
  static const auto schema =
      nlohmann::json::parse(Bytes(std::string(DEBOSSIER_SOURCE) + "/src/refset/set.schema.json"));
  std::string faults;
  std::error_code error;
  for (const auto& entry :
       std::filesystem::recursive_directory_iterator(library.refsets(), error)) {
    if (entry.path().extension() != ".json") continue;
    const auto value = nlohmann::json::parse(Bytes(entry.path()), nullptr, false);
    if (value.value("version", 0) == 1) continue;  // kept as it was written
    for (const auto& fault : test_support::SchemaErrors(schema, value)) {
      faults += entry.path().string() + ": " + fault + "\n";
    }
  }
  return faults;
}

/// Files and folders that a killed process left, anywhere in the library.
inline int Leftovers(const Library& library) {
  int count = 0;
  for (const auto& entry : std::filesystem::recursive_directory_iterator(library.folder)) {
    if (entry.path().extension() == ".part") ++count;
  }
  return count;
}

class InLibrary : public ::testing::Test {
 protected:
  void SetUp() override {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    folder_ = std::filesystem::path(::testing::TempDir()) /
              (std::string("refset_") + info->name() + "_" + std::to_string(::getpid()));
    std::filesystem::remove_all(folder_);
    std::filesystem::create_directories(folder_);
  }
  void TearDown() override {
    EXPECT_EQ(SchemaFaults(library()), "");
    std::filesystem::remove_all(folder_);
  }
  Library library() const { return {folder_}; }
  std::filesystem::path File(const std::string& id, int revision) const {
    return RevisionFile(library(), id, revision);
  }

  std::filesystem::path folder_;
};

}  // namespace debossier::refset
