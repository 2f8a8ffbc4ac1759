// HEIC through libheif, which is loaded when the first such file comes.
//
// The library believes sizes that stand deep in the file, and it and its codecs are large: it reads
// a stranger's file in a process of its own, under limits (guarded.h).
#include <dlfcn.h>
#include <libheif/heif.h>

#include <algorithm>
#include <array>
#include <cstring>
#include <limits>
#include <memory>
#include <span>
#include <string_view>
#include <vector>

#include "image/bytes.h"
#include "image/guarded.h"
#include "image/picture_file.h"
#include "image/pixels.h"

namespace debossier::image {

namespace {

constexpr const char* kLibrary = "libheif.so.1";
/// Tiles that are decoded side by side; each takes memory and a thread of its own.
constexpr int kTileThreads = 2;

/// The functions that are used, typed by the header that the program was built with.
struct Library {
  decltype(&heif_context_alloc) context_alloc = nullptr;
  decltype(&heif_context_free) context_free = nullptr;
  decltype(&heif_context_set_maximum_image_size_limit) set_size_limit = nullptr;
  decltype(&heif_context_set_max_decoding_threads) set_threads = nullptr;
  decltype(&heif_context_read_from_memory_without_copy) read = nullptr;
  decltype(&heif_context_get_primary_image_handle) primary = nullptr;
  decltype(&heif_image_handle_release) handle_release = nullptr;
  decltype(&heif_image_handle_get_width) shown_width = nullptr;
  decltype(&heif_image_handle_get_height) shown_height = nullptr;
  decltype(&heif_image_handle_get_list_of_metadata_block_IDs) metadata = nullptr;
  decltype(&heif_image_handle_get_metadata_size) metadata_size = nullptr;
  decltype(&heif_image_handle_get_metadata) read_metadata = nullptr;
  decltype(&heif_image_handle_has_alpha_channel) has_alpha = nullptr;
  decltype(&heif_image_handle_is_premultiplied_alpha) is_premultiplied = nullptr;
  decltype(&heif_decoding_options_alloc) options_alloc = nullptr;
  decltype(&heif_decoding_options_free) options_free = nullptr;
  decltype(&heif_decode_image) decode = nullptr;
  decltype(&heif_image_get_width) width = nullptr;
  decltype(&heif_image_get_height) height = nullptr;
  decltype(&heif_image_get_plane_readonly) plane = nullptr;
  decltype(&heif_image_release) image_release = nullptr;
  bool is_whole = false;
};

Library Load() {
  Library library;
  void* handle = dlopen(kLibrary, RTLD_NOW | RTLD_LOCAL);
  if (handle == nullptr) return library;
  library.is_whole = true;
  const auto find = [&](auto& function, const char* name) {
    void* symbol = dlsym(handle, name);
    library.is_whole = library.is_whole && symbol != nullptr;
    function = reinterpret_cast<std::remove_reference_t<decltype(function)>>(symbol);
  };
  find(library.context_alloc, "heif_context_alloc");
  find(library.context_free, "heif_context_free");
  find(library.set_size_limit, "heif_context_set_maximum_image_size_limit");
  find(library.set_threads, "heif_context_set_max_decoding_threads");
  find(library.read, "heif_context_read_from_memory_without_copy");
  find(library.primary, "heif_context_get_primary_image_handle");
  find(library.handle_release, "heif_image_handle_release");
  find(library.shown_width, "heif_image_handle_get_width");
  find(library.shown_height, "heif_image_handle_get_height");
  find(library.metadata, "heif_image_handle_get_list_of_metadata_block_IDs");
  find(library.metadata_size, "heif_image_handle_get_metadata_size");
  find(library.read_metadata, "heif_image_handle_get_metadata");
  find(library.has_alpha, "heif_image_handle_has_alpha_channel");
  find(library.is_premultiplied, "heif_image_handle_is_premultiplied_alpha");
  find(library.options_alloc, "heif_decoding_options_alloc");
  find(library.options_free, "heif_decoding_options_free");
  find(library.decode, "heif_decode_image");
  find(library.width, "heif_image_get_width");
  find(library.height, "heif_image_get_height");
  find(library.plane, "heif_image_get_plane_readonly");
  find(library.image_release, "heif_image_release");
  return library;
}

/// Loaded once and kept: its codecs do not bear being unloaded while threads of theirs end.
const Library& Heif() {
  static const Library library = Load();
  return library;
}

template <class T, class Free>
std::unique_ptr<T, Free> Owned(T* object, Free free) {
  return {object, free};
}

/// Copies an interleaved plane, R G B or R G B A, as B G R or B G R A. Not by OpenCV, whose threads
/// are not there after a fork.
cv::Mat Copied(const std::uint8_t* plane, int stride, cv::Size size, bool has_alpha) {
  const int channels = has_alpha ? 4 : 3;
  cv::Mat picture(size, CV_8UC(channels));
  for (int y = 0; y < size.height; ++y) {
    const std::uint8_t* from = plane + static_cast<std::ptrdiff_t>(y) * stride;
    std::uint8_t* to = picture.ptr(y);
    for (int x = 0; x < size.width; ++x, from += channels, to += channels) {
      to[0] = from[2];
      to[1] = from[1];
      to[2] = from[0];
      if (has_alpha) to[3] = from[3];
    }
  }
  return picture;
}

/// A file that the library has opened. All of it lives in the child.
class OpenHeic {
 public:
  /// Pictures with a side of more than `most_px` are not opened.
  OpenHeic(std::string_view bytes, int most_px)
      : context_(Owned(heif_.context_alloc(), heif_.context_free)) {
    if (!context_) return;
    heif_.set_size_limit(context_.get(), most_px);
    heif_.set_threads(context_.get(), kTileThreads);
    heif_image_handle* handle = nullptr;
    const auto read = heif_.read(context_.get(), bytes.data(), bytes.size(), nullptr);
    if (read.code != heif_error_Ok) return;
    if (heif_.primary(context_.get(), &handle).code == heif_error_Ok) handle_.reset(handle);
  }

  bool is_open() const { return handle_ != nullptr; }
  cv::Size Shown() const {
    return {heif_.shown_width(handle_.get()), heif_.shown_height(handle_.get())};
  }

  /// The start of the EXIF item, as much as fits: the distance to a TIFF stream, then that
  /// (ISO/IEC 23008-12, A.2.1).
  std::size_t ReadExif(std::span<std::uint8_t> to) const {
    heif_item_id id = 0;
    if (heif_.metadata(handle_.get(), "Exif", &id, 1) != 1) return 0;
    std::vector<std::uint8_t> exif(heif_.metadata_size(handle_.get(), id));
    if (heif_.read_metadata(handle_.get(), id, exif.data()).code != heif_error_Ok) return 0;
    const std::size_t size = std::min(exif.size(), to.size());
    std::copy_n(exif.begin(), size, to.begin());
    return size;
  }

  /// Fills `to`, CV_8UC3.
  bool Decode(cv::Mat& to) const {
    const auto options = Owned(heif_.options_alloc(), heif_.options_free);
    if (!options) return false;
    options->convert_hdr_to_8bit = 1;
    const bool has_alpha = heif_.has_alpha(handle_.get()) != 0;
    heif_image* decoded = nullptr;
    const heif_error error = heif_.decode(
        handle_.get(), &decoded, heif_colorspace_RGB,
        has_alpha ? heif_chroma_interleaved_RGBA : heif_chroma_interleaved_RGB, options.get());
    const auto image = Owned<const heif_image>(decoded, heif_.image_release);
    if (error.code != heif_error_Ok || heif_.width(decoded, heif_channel_interleaved) != to.cols ||
        heif_.height(decoded, heif_channel_interleaved) != to.rows) {
      return false;
    }
    int stride = 0;
    const std::uint8_t* plane = heif_.plane(decoded, heif_channel_interleaved, &stride);
    if (plane == nullptr) return false;
    cv::Mat picture = Copied(plane, stride, to.size(), has_alpha);
    if (has_alpha) {
      const bool is_done = heif_.is_premultiplied(handle_.get()) != 0;
      picture = OverMidGrey(picture, is_done ? Alpha::kPremultiplied : Alpha::kStraight);
    }
    picture.copyTo(to);
    return true;
  }

 private:
  const Library& heif_ = Heif();
  std::unique_ptr<heif_context, decltype(&heif_context_free)> context_;
  std::unique_ptr<const heif_image_handle, decltype(&heif_image_handle_release)> handle_{
      nullptr, heif_.handle_release};
};

/// What the child finds in a header.
struct Found {
  int width = 0;
  int height = 0;
  std::size_t exif_size = 0;
  /// Orientation and focal length stand in the first directories; previews come behind.
  std::array<std::uint8_t, 1 << 16> exif{};
};

}  // namespace

Result<Header> ReadHeicHeader(std::string_view bytes, const std::string& where) {
  if (!Heif().is_whole) {
    return Refuse(ErrorCode::kNotAnImage, "image", where,
                  "is a HEIC picture, and libheif, which reads it, is not installed",
                  "install the package libheif1, or export the photo as JPEG");
  }
  const auto read = RunGuarded(sizeof(Found), {}, [&](std::span<std::uint8_t> shared) {
    const OpenHeic file(bytes, std::numeric_limits<int>::max());
    if (!file.is_open()) return false;
    Found found;
    found.width = file.Shown().width;
    found.height = file.Shown().height;
    found.exif_size = file.ReadExif(found.exif);
    std::memcpy(shared.data(), &found, sizeof(found));
    return true;
  });
  if (!read) return Damaged(where, "the HEIC file breaks off or contradicts itself");
  Found found;
  std::memcpy(&found, read.get(), sizeof(found));
  if (found.width < 1 || found.height < 1) {
    return Damaged(where, "the HEIC header gives no width or no height");
  }
  Header header;
  header.format = Format::kHeic;
  header.width = found.width;
  header.height = found.height;
  const std::string_view exif(reinterpret_cast<const char*>(found.exif.data()),
                              std::min(found.exif_size, found.exif.size()));
  if (const auto distance = ReadUint(exif, 0, 4, Endian::kBig);
      distance && *distance <= exif.size() - 4) {
    ApplyExif(exif.substr(4 + std::size_t{*distance}), header);
  }
  // The turn in the file's own properties counts; EXIF repeats it for other programs.
  header.exif_orientation = 1;
  return header;
}

cv::Mat DecodeHeic(const std::string& bytes, cv::Size size) {
  const auto pixels = static_cast<std::size_t>(size.area());
  GuardLimits limits;
  // Planes, colours and tiles together; phones' photos take half of it.
  limits.memory_bytes += 16 * pixels;
  // Ten times what a slow machine needs.
  limits.seconds += static_cast<int>(pixels / 1'000'000);
  const auto read = RunGuarded(3 * pixels, limits, [&](std::span<std::uint8_t> shared) {
    cv::Mat picture(size, CV_8UC3, shared.data());
    const OpenHeic file(bytes, 2 * std::max(size.width, size.height));
    return file.is_open() && file.Decode(picture) && picture.data == shared.data();
  });
  return read ? cv::Mat(size, CV_8UC3, read.get()).clone() : cv::Mat();
}

}  // namespace debossier::image
