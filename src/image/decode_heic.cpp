// HEIC through libheif, which is loaded when the first such file comes.
#include <dlfcn.h>
#include <libheif/heif.h>

#include <memory>

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

/// Copies an interleaved plane, R G B or R G B A, as B G R or B G R A.
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

}  // namespace

bool CanDecodeHeic() { return Heif().is_whole; }

cv::Mat DecodeHeic(const std::string& bytes, cv::Size size) {
  const Library& heif = Heif();
  const auto context = Owned(heif.context_alloc(), heif.context_free);
  if (!context) return {};
  heif.set_size_limit(context.get(), std::max(size.width, size.height) * 2);
  heif.set_threads(context.get(), kTileThreads);
  if (heif.read(context.get(), bytes.data(), bytes.size(), nullptr).code != heif_error_Ok) {
    return {};
  }
  heif_image_handle* handle = nullptr;
  if (heif.primary(context.get(), &handle).code != heif_error_Ok) return {};
  const auto owned_handle = Owned<const heif_image_handle>(handle, heif.handle_release);
  const auto options = Owned(heif.options_alloc(), heif.options_free);
  if (!options) return {};
  options->convert_hdr_to_8bit = 1;
  const bool has_alpha = heif.has_alpha(handle) != 0;
  heif_image* image = nullptr;
  const heif_error error = heif.decode(
      handle, &image, heif_colorspace_RGB,
      has_alpha ? heif_chroma_interleaved_RGBA : heif_chroma_interleaved_RGB, options.get());
  const auto owned_image = Owned<const heif_image>(image, heif.image_release);
  if (error.code != heif_error_Ok) return {};
  if (heif.width(image, heif_channel_interleaved) != size.width ||
      heif.height(image, heif_channel_interleaved) != size.height) {
    return {};
  }
  int stride = 0;
  const std::uint8_t* plane = heif.plane(image, heif_channel_interleaved, &stride);
  if (plane == nullptr) return {};
  const cv::Mat picture = Copied(plane, stride, size, has_alpha);
  if (!has_alpha) return picture;
  const bool is_done = heif.is_premultiplied(handle) != 0;
  return OverMidGrey(picture, is_done ? Alpha::kPremultiplied : Alpha::kStraight);
}

}  // namespace debossier::image
