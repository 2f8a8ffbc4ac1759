// The program as a person runs it.
#pragma once

#include <gtest/gtest.h>
#include <sys/wait.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>

namespace debossier {

inline const std::string kSource = DEBOSSIER_SOURCE;

struct ProgramRun {
  int code = -1;
  std::string output;  ///< Standard output and error.
};

inline ProgramRun Program(const std::string& arguments) {
  ProgramRun run;
  const std::string command = std::string(DEBOSSIER_PROGRAM) + " " + arguments + " 2>&1";
  FILE* pipe = popen(command.c_str(), "r");
  std::array<char, 4096> buffer{};
  while (std::fgets(buffer.data(), buffer.size(), pipe) != nullptr) run.output += buffer.data();
  const int status = pclose(pipe);
  run.code = WIFEXITED(status) ? WEXITSTATUS(status) : 256;
  return run;
}

inline std::string Text(const std::filesystem::path& path) {
  std::ifstream in(path, std::ios::binary);
  std::stringstream text;
  text << in.rdbuf();
  return text.str();
}

class Cli : public ::testing::Test {
 protected:
  void SetUp() override {
    const auto* info = ::testing::UnitTest::GetInstance()->current_test_info();
    folder_ = std::filesystem::path(::testing::TempDir()) / (std::string("cli_") + info->name());
    std::filesystem::remove_all(folder_);
    std::filesystem::create_directories(folder_);
  }
  void TearDown() override { std::filesystem::remove_all(folder_); }
  std::string Out(const std::string& name) const { return (folder_ / name).string(); }
  static std::string Compare(const std::string& photo) {
    return "--library " + kSource + " compare --set orbenna --photo " + photo + " ";
  }
  std::filesystem::path folder_;
};

}  // namespace debossier
