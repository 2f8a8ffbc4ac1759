// PDF documents as poppler's programs see them.
#pragma once

#include <gtest/gtest.h>

#include <cstdio>
#include <regex>
#include <string>

namespace debossier::test_support {

/// Standard output of a command; empty where it fails.
inline std::string OutputOf(const std::string& command) {
  std::string output;
  FILE* pipe = popen((command + " 2>/dev/null").c_str(), "r");
  if (pipe == nullptr) return output;
  char buffer[4096];
  for (std::size_t n; (n = fread(buffer, 1, sizeof buffer, pipe)) > 0;) output.append(buffer, n);
  pclose(pipe);
  return output;
}

/// Holds every word's box of `pdftotext -bbox` against the margins of its page, and returns how
/// many there are. The pages' own box stands first in the output; all are alike.
inline int WordsWithinMargins(const std::string& boxes) {
  const std::regex page_size("<page width=\"([0-9.]+)\" height=\"([0-9.]+)\"");
  const std::regex word(
      "<word xMin=\"([-0-9.]+)\" yMin=\"([-0-9.]+)\" xMax=\"([-0-9.]+)\" yMax=\"([-0-9.]+)\"");
  std::smatch size;
  if (!std::regex_search(boxes, size, page_size)) return 0;
  const double width = std::stod(size[1]), height = std::stod(size[2]);
  int words = 0;
  for (std::sregex_iterator it(boxes.begin(), boxes.end(), word), end; it != end; ++it, ++words) {
    EXPECT_GT(std::stod((*it)[1]), 30) << it->str();
    EXPECT_LT(std::stod((*it)[3]), width - 30) << it->str();
    EXPECT_GT(std::stod((*it)[2]), 30) << it->str();
    EXPECT_LT(std::stod((*it)[4]), height - 15) << it->str();
  }
  return words;
}

}  // namespace debossier::test_support
