#include "report/pair_picture.h"

#include <fmt/format.h>

#include "base/text_forms.h"
#include "image/encode_jpeg.h"
#include "report/pages.h"
#include "report/straightened.h"

namespace debossier::report {

namespace {

constexpr double kMostWidth = 1100;   // pixels
constexpr double kMostPx = 60;        // a cap height
constexpr double kGroundShown = 0.3;  // about the lettering, cap heights
constexpr int kJpegQuality = 80;
constexpr double kCaption = 22;

std::string Image(const cv::Mat& bgr, double y, double width, double height) {
  return fmt::format(
      R"(<image y="{:.0f}" width="{:.0f}" height="{:.0f}" preserveAspectRatio="none" )"
      R"(href="data:image/jpeg;base64,{}"/>)",
      y, width, height, Base64(image::EncodeJpeg(bgr, kJpegQuality)));
}

std::string Caption(const std::string& words, double y) {
  return fmt::format(
      R"(<text x="0" y="{:.0f}" font-family="sans-serif" font-size="14" fill="#5c6066">{}</text>)",
      y + 16, MarkupText(words));
}

/// The set's outlines, filled, where a picture of a verified item would be.
std::string Outlines(const outline::Lettering& reference, const Box& box, double y, double px) {
  std::string path;
  const auto add = [&](const outline::Outline& outline) {
    for (const outline::Polyline& line : outline::Flatten(outline, 0.3 / px)) {
      for (std::size_t i = 0; i < line.size(); ++i) {
        path += fmt::format("{}{:.1f} {:.1f}", i == 0 ? "M" : "L", px * (line[i].x() - box.min.x()),
                            y + px * (box.max.y() - line[i].y()));
      }
      path += "Z";
    }
  };
  for (const auto& e : reference.elements) add(e.outline);
  add(outline::FrameOutline(reference.frame));
  return fmt::format(R"(<path d="{}" fill="#5c6066"/>)", path);
}

}  // namespace

std::string PairSvg(const image::Photo& photo, const compare::Comparison& c,
                    const VerifiedPicture* verified) {
  std::optional<Box> box = LetteringBox(c);
  if (!box) return "";
  box->Add(outline::Bounds(c.reference));
  *box = Grown(*box, kGroundShown);
  const double px = std::min(kMostPx, kMostWidth / box->width());
  const double width = std::round(px * box->width()), height = std::round(px * box->height());
  const Straightened questioned = Straighten(photo.bgr, c.measured.placement, *box, px);
  if (questioned.bgr.empty()) return "";
  std::string body = Caption("this item", 0) + Image(questioned.bgr, kCaption, width, height);
  const double below = kCaption + height;
  const bool has_picture = verified != nullptr && !verified->picture.bgr.empty();
  if (has_picture) {
    const Straightened other =
        Straighten(verified->picture.bgr, verified->picture.picture_from_stamp, *box, px);
    body += Caption(fmt::format("a verified item of the set ({})", verified->item), below) +
            Image(other.bgr, below + kCaption, width, height);
  } else {
    body += Caption("mean outline of the verified items, drawn", below) +
            Outlines(c.reference, *box, below + kCaption, px);
  }
  return fmt::format(R"(<svg xmlns="http://www.w3.org/2000/svg" width="{0:.0f}" height="{1:.0f}" )"
                     R"(viewBox="0 0 {0:.0f} {1:.0f}">{2}</svg>)"
                     "\n",
                     width, 2 * (kCaption + height), body);
}

}  // namespace debossier::report
