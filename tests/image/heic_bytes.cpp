#include "image/heic_bytes.h"

#include <libheif/heif.h>

#include <memory>

#include "image/picture_bytes.h"

namespace debossier::image::testing {

namespace {

heif_error Append(heif_context*, const void* data, std::size_t size, void* to) {
  static_cast<std::string*>(to)->append(static_cast<const char*>(data), size);
  return {heif_error_Ok, heif_suberror_Unspecified, ""};
}

heif_image* HeifImage(const cv::Mat& picture, const HeicOptions& options) {
  const bool has_alpha = picture.channels() == 4;
  heif_image* image = nullptr;
  heif_image_create(picture.cols, picture.rows, heif_colorspace_RGB,
                    has_alpha ? heif_chroma_interleaved_RGBA : heif_chroma_interleaved_RGB, &image);
  heif_image_add_plane(image, heif_channel_interleaved, picture.cols, picture.rows, 8);
  int stride = 0;
  std::uint8_t* plane = heif_image_get_plane(image, heif_channel_interleaved, &stride);
  for (int y = 0; y < picture.rows; ++y) {
    for (int x = 0; x < picture.cols; ++x) {
      const std::uint8_t* from = picture.ptr(y, x);
      std::uint8_t* to = plane + y * stride + x * picture.channels();
      for (int c = 0; c < picture.channels(); ++c) to[c] = from[c < 3 ? 2 - c : c];
    }
  }
  if (!options.icc.empty()) {
    heif_image_set_raw_color_profile(image, "prof", options.icc.data(), options.icc.size());
  }
  return image;
}

std::string U(std::uint32_t value, int size) { return Uint(value, size, true); }

struct BoxedItem {
  std::string type;
  std::string data;
  std::vector<int> properties;  ///< Counted from 1.
};

/// Items are numbered from 1; the first is the primary. `references` is the content of iref.
std::string Boxed(const std::vector<BoxedItem>& items, const std::vector<std::string>& properties,
                  const std::string& references) {
  const auto count = static_cast<std::uint32_t>(items.size());
  std::string infos = U(count, 2), associations = U(count, 4);
  for (std::uint32_t i = 0; i < count; ++i) {
    infos +=
        HeicFullBox("infe", 2, 0, U(i + 1, 2) + U(0, 2) + items[i].type + std::string(1, '\0'));
    associations += U(i + 1, 2) + U(static_cast<std::uint32_t>(items[i].properties.size()), 1);
    for (const int p : items[i].properties) associations += U(static_cast<std::uint32_t>(p), 1);
  }
  std::string list;
  for (const std::string& property : properties) list += property;
  const std::string start = HeicBox("ftyp", "heic" + U(0, 4) + "mif1heic");
  const auto meta = [&](std::uint32_t data_at) {
    std::string locations = U(0x4400, 2) + U(count, 2), data;
    for (std::uint32_t i = 0; i < count; ++i) {
      locations += U(i + 1, 2) + U(0, 2) + U(1, 2) +
                   U(data_at + static_cast<std::uint32_t>(data.size()), 4) +
                   U(static_cast<std::uint32_t>(items[i].data.size()), 4);
      data += items[i].data;
    }
    const std::string handler = HeicFullBox("hdlr", 0, 0, U(0, 4) + "pict" + std::string(13, '\0'));
    std::string content =
        handler + HeicFullBox("pitm", 0, 0, U(1, 2)) + HeicFullBox("iinf", 0, 0, infos) +
        HeicFullBox("iloc", 0, 0, locations) +
        HeicBox("iprp", HeicBox("ipco", list) + HeicFullBox("ipma", 0, 0, associations));
    if (!references.empty()) content += HeicFullBox("iref", 0, 0, references);
    return HeicFullBox("meta", 0, 0, content);
  };
  const auto data_at = static_cast<std::uint32_t>(start.size() + meta(0).size() + 8);
  std::string data;
  for (const BoxedItem& item : items) data += item.data;
  return start + meta(data_at) + HeicBox("mdat", data);
}

std::string Extents(std::uint32_t width, std::uint32_t height) {
  return HeicFullBox("ispe", 0, 0, U(width, 4) + U(height, 4));
}

}  // namespace

std::string Heic(const cv::Mat& picture, const HeicOptions& options) {
  std::unique_ptr<heif_context, decltype(&heif_context_free)> context(heif_context_alloc(),
                                                                      &heif_context_free);
  heif_encoder* encoder = nullptr;
  if (heif_context_get_encoder_for_format(context.get(), heif_compression_HEVC, &encoder).code !=
      heif_error_Ok) {
    return {};
  }
  heif_encoder_set_lossy_quality(encoder, options.quality);
  heif_encoding_options* how = heif_encoding_options_alloc();
  how->image_orientation = static_cast<heif_orientation>(options.orientation);
  heif_color_profile_nclx* colours = heif_nclx_color_profile_alloc();
  if (options.lossless) {
    heif_encoder_set_lossless(encoder, 1);
    heif_encoder_set_parameter_string(encoder, "chroma", "444");
    heif_nclx_color_profile_set_matrix_coefficients(colours, 0);
    how->output_nclx_profile = colours;
  }
  heif_image* image = HeifImage(picture, options);
  heif_image_handle* handle = nullptr;
  heif_context_encode_image(context.get(), image, encoder, how, &handle);
  if (handle != nullptr && !options.exif.empty()) {
    heif_context_add_exif_metadata(context.get(), handle, options.exif.data(),
                                   static_cast<int>(options.exif.size()));
  }
  std::string file;
  heif_writer writer{1, Append};
  if (handle != nullptr) heif_context_write(context.get(), &writer, &file);
  heif_image_handle_release(handle);
  heif_image_release(image);
  heif_nclx_color_profile_free(colours);
  heif_encoding_options_free(how);
  heif_encoder_release(encoder);
  return file;
}

std::string HeicBox(const std::string& type, const std::string& content) {
  return U(static_cast<std::uint32_t>(content.size() + 8), 4) + type + content;
}

std::string HeicFullBox(const std::string& type, int version, std::uint32_t flags,
                        const std::string& content) {
  return HeicBox(type, U(static_cast<std::uint32_t>(version), 1) + U(flags, 3) + content);
}

Coded CodedPicture(const std::string& file) {
  // The encoder writes one picture, its data and nothing else into one box.
  const auto content = [&file](const std::string& type) -> std::string {
    const std::size_t at = file.find(type);
    if (at == std::string::npos || at < 4) return {};
    std::size_t size = 0;
    for (std::size_t i = at - 4; i < at; ++i)
      size = size << 8 | static_cast<unsigned char>(file[i]);
    return file.substr(at + 4, size - 8);
  };
  return {content("hvcC"), content("mdat")};
}

std::string HeicOf(std::uint32_t width, std::uint32_t height, const std::string& configuration,
                   const std::string& data) {
  return Boxed({{"hvc1", data, {1, 2}}}, {Extents(width, height), HeicBox("hvcC", configuration)},
               "");
}

std::string HeicOfTiles(const std::vector<cv::Mat>& tiles, const HeicGrid& grid) {
  const std::string shape = std::string(1, '\0') + std::string(1, '\1') +
                            U(static_cast<std::uint32_t>(grid.rows - 1), 1) +
                            U(static_cast<std::uint32_t>(grid.columns - 1), 1) + U(grid.width, 4) +
                            U(grid.height, 4);
  std::vector<std::string> properties = {Extents(grid.ispe_width ? grid.ispe_width : grid.width,
                                                 grid.ispe_height ? grid.ispe_height : grid.height),
                                         Extents(static_cast<std::uint32_t>(tiles[0].cols),
                                                 static_cast<std::uint32_t>(tiles[0].rows))};
  std::vector<BoxedItem> items = {{"grid", shape, {1}}};
  const int cells = grid.rows * grid.columns;
  std::string references = U(1, 2) + U(static_cast<std::uint32_t>(cells), 2);
  for (int i = 0; i < cells; ++i) {
    references += U(grid.repeat_first ? 2 : static_cast<std::uint32_t>(i + 2), 2);
  }
  for (const cv::Mat& tile : tiles) {
    const Coded coded = CodedPicture(Heic(tile, {.lossless = true}));
    properties.push_back(HeicBox("hvcC", coded.configuration));
    items.push_back({"hvc1", coded.data, {2, static_cast<int>(properties.size())}});
  }
  if (!grid.more_properties.empty()) {
    properties.push_back(grid.more_properties);
    items[0].properties.push_back(static_cast<int>(properties.size()));
  }
  return Boxed(items, properties, HeicBox("dimg", references));
}

}  // namespace debossier::image::testing
