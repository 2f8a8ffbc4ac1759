#include <fmt/format.h>

#include <charconv>
#include <string_view>

#include "outline/glif.h"
#include "outline/plist.h"

namespace debossier::outline {

namespace {

Unexpected Unreadable(const std::string& where, std::string message) {
  return Refuse(ErrorCode::kSetUnreadable, "outline", where, std::move(message),
                "open the glyph in a font editor, repair it and save it as UFO 3");
}

/// An attribute that is a number; nothing where it is damaged, `absent` where it is not there.
std::optional<double> NumberAttribute(const pugi::xml_node& node, const char* name,
                                      std::optional<double> absent = std::nullopt) {
  const pugi::xml_attribute attribute = node.attribute(name);
  return attribute ? ParseNumber(attribute.value()) : absent;
}

std::optional<char32_t> CodePointAttribute(const pugi::xml_node& node) {
  const std::string_view hex = node.attribute("hex").value();
  std::uint32_t value = 0;
  const auto [end, error] = std::from_chars(hex.data(), hex.data() + hex.size(), value, 16);
  if (hex.empty() || error != std::errc{} || end != hex.data() + hex.size()) return std::nullopt;
  if (value > 0x10FFFF || (value >= 0xD800 && value <= 0xDFFF)) return std::nullopt;
  return static_cast<char32_t>(value);
}

std::optional<GlifPointType> TypeNamed(std::string_view name) {
  if (name.empty() || name == "offcurve") return GlifPointType::kOffCurve;
  if (name == "line") return GlifPointType::kLine;
  if (name == "curve") return GlifPointType::kCurve;
  if (name == "qcurve") return GlifPointType::kQCurve;
  return std::nullopt;
}

/// Reads one <contour> into `outline`; `points_left` shrinks by its points.
Result<std::monostate> ReadContour(const pugi::xml_node& node, const std::string& where,
                                   int& points_left, Outline& outline) {
  std::vector<GlifPoint> points;
  bool open = false;
  for (const pugi::xml_node& point : node.children("point")) {
    if (--points_left < 0) return Unreadable(where, "has more points than a letter needs");
    const std::string_view type_name = point.attribute("type").value();
    const auto x = NumberAttribute(point, "x");
    const auto y = NumberAttribute(point, "y");
    if (!x || !y) return Unreadable(where, "has a point that is not a pair of numbers in range");
    open = open || type_name == "move";
    const auto type = open ? GlifPointType::kLine : TypeNamed(type_name);
    if (!type) return Unreadable(where, "has a point of an unknown type");
    points.push_back({*type, Point(*x, *y)});
  }
  if (points.size() < 2) return std::monostate{};
  if (open) return Unreadable(where, "has an open contour");
  auto contour = FromGlifPoints(points);
  if (!contour) return Unreadable(where, "has off-curve points that no segment can use");
  outline.contours.push_back(*std::move(contour));
  return std::monostate{};
}

Result<Outline> ReadOutline(const pugi::xml_node& node, const std::string& where, int max_points) {
  Outline outline;
  for (const pugi::xml_node& child : node.children()) {
    const std::string_view kind = child.name();
    if (kind == "component") {
      return Unreadable(where, "is built from components, which are not read");
    }
    if (kind != "contour") continue;
    const auto read = ReadContour(child, where, max_points, outline);
    if (!read) return PassOn(read);
  }
  return outline;
}

}  // namespace

Result<UfoGlyph> ReadGlif(const pugi::xml_document& document, const std::string& where,
                          int max_points) {
  const pugi::xml_node root = document.child("glyph");
  const auto format = NumberAttribute(root, "format");
  if (!root || !format) return Unreadable(where, "is not a GLIF file");
  if (*format > 2) {
    return Refuse(ErrorCode::kNewerFormat, "outline", where,
                  fmt::format("has GLIF format {}, newer than 2", root.attribute("format").value()),
                  "save the font as UFO 3 or use a newer version of this program");
  }
  UfoGlyph glyph;
  glyph.name = root.attribute("name").value();
  const auto advance = NumberAttribute(root.child("advance"), "width", 0.0);
  if (!advance) return Unreadable(where, "has an advance width that is not a number in range");
  glyph.advance = *advance;
  for (const pugi::xml_node& unicode : root.children("unicode")) {
    const auto code_point = CodePointAttribute(unicode);
    if (!code_point) return Unreadable(where, "has a code point that is none");
    glyph.unicodes.push_back(*code_point);
  }
  auto outline = ReadOutline(root.child("outline"), where, max_points);
  if (!outline) return PassOn(outline);
  glyph.outline = *std::move(outline);
  return glyph;
}

}  // namespace debossier::outline
