#include "image/blocks.h"

#include <algorithm>
#include <cstdint>
#include <vector>

#include "base/result.h"
#include "base/vector_clones.h"

namespace debossier::image {

namespace {

constexpr int kMostFactor = 256;  // of 255 each fit 16 bits

DEBOSSIER_VECTOR_CLONES
void AddRow(const unsigned char* row, int count, std::uint16_t* __restrict sum) {
  for (int i = 0; i < count; ++i) sum[i] = static_cast<std::uint16_t>(sum[i] + row[i]);
}

/// Adds `factor` neighbours, `stride` apart, from every place on.
DEBOSSIER_VECTOR_CLONES
void AddAcross(const std::uint16_t* down, int count, int factor, int stride,
               std::uint32_t* __restrict sum) {
  for (int k = 0; k < factor; ++k) {
    const std::uint16_t* from = down + k * stride;
    for (int i = 0; i < count; ++i) sum[i] += from[i];
  }
}

DEBOSSIER_VECTOR_CLONES
void OrRow(const unsigned char* row, int count, unsigned char* __restrict any) {
  for (int i = 0; i < count; ++i) any[i] = static_cast<unsigned char>(any[i] | row[i]);
}

}  // namespace

cv::Mat BlockMeans(const cv::Mat& picture, int factor) {
  DEBOSSIER_ASSERT(picture.depth() == CV_8U && factor >= 1 && factor <= kMostFactor);
  const int channels = picture.channels();
  cv::Mat means(picture.rows / factor, picture.cols / factor, picture.type());
  const int used = means.cols * factor * channels;
  const float share = 1.f / static_cast<float>(factor * factor);
  std::vector<std::uint16_t> down(static_cast<std::size_t>(used));
  std::vector<std::uint32_t> across(static_cast<std::size_t>(used));
  for (int y = 0; y < means.rows; ++y) {
    std::fill(down.begin(), down.end(), std::uint16_t{0});
    std::fill(across.begin(), across.end(), 0U);
    for (int k = 0; k < factor; ++k) {
      AddRow(picture.ptr<unsigned char>(y * factor + k), used, down.data());
    }
    AddAcross(down.data(), used - (factor - 1) * channels, factor, channels, across.data());
    auto* out = means.ptr<unsigned char>(y);
    for (int x = 0; x < means.cols; ++x) {
      for (int c = 0; c < channels; ++c) {
        const auto sum =
            static_cast<float>(across[static_cast<std::size_t>(x * factor * channels + c)]);
        out[x * channels + c] = static_cast<unsigned char>(sum * share + 0.5f);
      }
    }
  }
  return means;
}

cv::Mat BlocksWithAny(const cv::Mat& mask, int factor) {
  DEBOSSIER_ASSERT(mask.type() == CV_8U && factor >= 1);
  cv::Mat blocks((mask.rows + factor - 1) / factor, (mask.cols + factor - 1) / factor, CV_8U);
  std::vector<unsigned char> any(static_cast<std::size_t>(mask.cols));
  for (int y = 0; y < blocks.rows; ++y) {
    std::fill(any.begin(), any.end(), static_cast<unsigned char>(0));
    const int last = std::min((y + 1) * factor, mask.rows);
    for (int row = y * factor; row < last; ++row) {
      OrRow(mask.ptr<unsigned char>(row), mask.cols, any.data());
    }
    auto* out = blocks.ptr<unsigned char>(y);
    for (int x = 0; x < blocks.cols; ++x) {
      const auto begin = any.begin() + x * factor;
      const auto end = any.begin() + std::min((x + 1) * factor, mask.cols);
      out[x] = std::any_of(begin, end, [](unsigned char v) { return v != 0; }) ? 255 : 0;
    }
  }
  return blocks;
}

cv::Mat Repeated(const cv::Mat& blocks, int factor, const cv::Size& size) {
  DEBOSSIER_ASSERT(blocks.type() == CV_8U && blocks.cols * factor >= size.width &&
                   blocks.rows * factor >= size.height);
  cv::Mat out(size, CV_8U);
  for (int y = 0; y < size.height; ++y) {
    auto* row = out.ptr<unsigned char>(y);
    if (y % factor != 0) {
      std::copy_n(out.ptr<unsigned char>(y - 1), size.width, row);
      continue;
    }
    const auto* block = blocks.ptr<unsigned char>(y / factor);
    for (int x = 0; x < size.width; x += factor) {
      std::fill(row + x, row + std::min(x + factor, size.width), block[x / factor]);
    }
  }
  return out;
}

}  // namespace debossier::image
