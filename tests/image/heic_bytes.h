// HEIC files for the tests: coded by libheif's encoder, and boxes put together by hand from
// ISO/IEC 23008-12 for what the encoder does not write (grids of tiles, contradictions).
#pragma once

#include <cstdint>
#include <opencv2/core.hpp>
#include <string>
#include <vector>

namespace debossier::image::testing {

struct HeicOptions {
  int quality = 90;
  int orientation = 1;    ///< Written as irot and imir, numbered as EXIF does.
  bool lossless = false;  ///< Coded as R G B without chroma subsampling.
  std::string exif = {};  ///< A TIFF stream.
  std::string icc = {};   ///< Any bytes.
};

/// `picture` (CV_8UC3 B G R, or CV_8UC4 B G R A) as a HEIC file; empty where libheif lacks an HEVC
/// encoder.
std::string Heic(const cv::Mat& picture, const HeicOptions& options = {});

std::string HeicBox(const std::string& type, const std::string& content);
std::string HeicFullBox(const std::string& type, int version, std::uint32_t flags,
                        const std::string& content);

/// What a grid file says, apart from its tiles; each field may be set wrong.
struct HeicGrid {
  int columns = 0;
  int rows = 0;
  std::uint32_t width = 0;  ///< Of the whole picture.
  std::uint32_t height = 0;
  std::uint32_t ispe_width = 0;  ///< As the header says; 0: `width`.
  std::uint32_t ispe_height = 0;
  bool repeat_first = false;         ///< All references go to the first tile.
  std::string more_properties = {};  ///< Boxes that apply to the whole picture.
};

/// A HEIC file whose picture is a grid of `tiles` of one size, as phones write it.
std::string HeicOfTiles(const std::vector<cv::Mat>& tiles, const HeicGrid& grid);

/// A HEIC file of one picture with the given decoder configuration (hvcC) and coded data.
std::string HeicOf(std::uint32_t width, std::uint32_t height, const std::string& configuration,
                   const std::string& data);

/// Configuration and data of the first coded picture in `file`.
struct Coded {
  std::string configuration;
  std::string data;
};
Coded CodedPicture(const std::string& file);

}  // namespace debossier::image::testing
