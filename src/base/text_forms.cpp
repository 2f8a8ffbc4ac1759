#include "base/text_forms.h"

#include <glib.h>

#include <charconv>
#include <memory>

namespace debossier {

namespace {

std::string Taken(gchar* text) {
  const std::unique_ptr<gchar, decltype(&g_free)> owned(text, g_free);
  return owned.get();
}

}  // namespace

std::string Base64(std::string_view bytes) {
  return Taken(g_base64_encode(reinterpret_cast<const guchar*>(bytes.data()), bytes.size()));
}

std::string MarkupText(std::string_view text) {
  return Taken(g_markup_escape_text(text.data(), static_cast<gssize>(text.size())));
}

bool IsIsoDate(std::string_view text) {
  if (text.size() != 10 || text[4] != '-' || text[7] != '-') return false;
  const auto number = [&](std::size_t at, std::size_t length) {
    unsigned value = 0;
    const char* end = text.data() + at + length;
    const auto [next, error] = std::from_chars(text.data() + at, end, value);
    return error == std::errc() && next == end ? value : 0;
  };
  const unsigned year = number(0, 4), month = number(5, 2), day = number(8, 2);
  return year >= 1900 && month >= 1 && month <= 12 && day >= 1 && day <= 31 &&
         g_date_valid_dmy(static_cast<GDateDay>(day), static_cast<GDateMonth>(month),
                          static_cast<GDateYear>(year)) != 0;
}

Result<std::vector<std::pair<std::string, std::string>>> KeyFileGroup(const std::string& text,
                                                                      const std::string& group,
                                                                      const std::string& where) {
  const std::string hint = "write [" + group +
                           "] on the first line and one \"name = value\" on each line after it, in "
                           "UTF-8";
  const std::unique_ptr<GKeyFile, decltype(&g_key_file_free)> file(g_key_file_new(),
                                                                   g_key_file_free);
  GError* error = nullptr;
  const auto refuse = [&](const std::string& what) {
    const std::string why = error == nullptr ? "" : std::string(": ") + error->message;
    g_clear_error(&error);
    return Refuse(ErrorCode::kUsage, "base", where, what + why, hint);
  };
  if (g_key_file_load_from_data(file.get(), text.data(), text.size(), G_KEY_FILE_NONE, &error) ==
      0) {
    return refuse("is no settings file");
  }
  const std::unique_ptr<gchar*, decltype(&g_strfreev)> keys(
      g_key_file_get_keys(file.get(), group.c_str(), nullptr, &error), g_strfreev);
  if (!keys) return refuse("has no group [" + group + "]");
  std::vector<std::pair<std::string, std::string>> out;
  for (gchar** key = keys.get(); *key != nullptr; ++key) {
    const std::unique_ptr<gchar, decltype(&g_free)> value(
        g_key_file_get_string(file.get(), group.c_str(), *key, &error), g_free);
    if (!value) return refuse(std::string("its value of \"") + *key + "\" cannot be read");
    out.emplace_back(*key, value.get());
  }
  return out;
}

}  // namespace debossier
