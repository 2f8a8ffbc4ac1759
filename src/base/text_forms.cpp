#include "base/text_forms.h"

#include <glib.h>

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

}  // namespace debossier
