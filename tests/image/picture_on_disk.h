// A picture file that exists as long as the object does.
#pragma once

#include <gtest/gtest.h>
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <string>

namespace debossier::image::testing {

class PictureOnDisk {
 public:
  explicit PictureOnDisk(const std::string& bytes)
      : path_(::testing::TempDir() + "picture_" + std::to_string(::getpid())) {
    std::ofstream(path_, std::ios::binary) << bytes;
  }
  ~PictureOnDisk() { std::filesystem::remove(path_); }
  PictureOnDisk(const PictureOnDisk&) = delete;
  PictureOnDisk& operator=(const PictureOnDisk&) = delete;

  const std::filesystem::path& Path() const { return path_; }

 private:
  std::filesystem::path path_;
};

}  // namespace debossier::image::testing
