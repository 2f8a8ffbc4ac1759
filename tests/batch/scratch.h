// A folder of its own for each test of a batch, and photos that compare quickly.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

namespace debossier::batch {

inline std::string Contents(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

class ScratchTest : public ::testing::Test {
 protected:
  void SetUp() override {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    folder_ = std::filesystem::path(::testing::TempDir()) /
              ("batch-" + std::to_string(getpid()) + "-" + info->name());
    std::filesystem::remove_all(folder_);
    std::filesystem::create_directories(folder_ / "in");
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }

  std::filesystem::path in() const { return folder_ / "in"; }
  std::filesystem::path out() const { return folder_ / "out"; }
  static std::filesystem::path Example(const std::string& name) {
    return std::filesystem::path(DEBOSSIER_SOURCE) / "examples" / name;
  }
  void Put(const std::string& name, const std::string& bytes) const {
    std::filesystem::create_directories((in() / name).parent_path());
    std::ofstream(in() / name, std::ios::binary) << bytes;
  }
  void PutExample(const std::string& name, const std::string& example) const {
    Put(name, Contents(Example(example)));
  }

  std::filesystem::path folder_;
};

}  // namespace debossier::batch
