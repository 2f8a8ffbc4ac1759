#include "report/overlay_pdf.h"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <charconv>
#include <cstdlib>
#include <cstring>
#include <ctime>
#include <optional>

#include "report/pages.h"
#include "results/words.h"

namespace debossier::report {
namespace {

using compare::Comparison;

constexpr double kMargin = 42;
constexpr double kFooterHeight = 34;

// The date of SOURCE_DATE_EPOCH as ISO 8601; none where it is not set or not a sensible number.
std::optional<std::string> SourceDate() {
  const char* text = std::getenv("SOURCE_DATE_EPOCH");
  if (text == nullptr) return std::nullopt;
  std::int64_t seconds = -1;
  const char* end = text + std::strlen(text);
  const auto [at, error] = std::from_chars(text, end, seconds);
  constexpr std::int64_t kYear10000 = 253402300800;
  if (error != std::errc() || at != end || seconds < 0 || seconds >= kYear10000) {
    return std::nullopt;
  }
  return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(static_cast<std::time_t>(seconds)));
}

std::string ShortHash(const std::string& sha256) { return sha256.substr(0, 12); }

void DrawFooter(Canvas& canvas, const Rect& body, const Page& page, std::size_t number,
                std::size_t total) {
  const double y = body.bottom() + 8;
  const TextStyle style{.size = 7.5, .colour = kQuietInk, .max_lines = 1};
  canvas.Line({body.x, y}, {body.right(), y}, kRule, 0.5);
  canvas.Text({body.x, y + 4}, body.width - 70, page.footer, style);
  TextStyle right = style;
  right.align = Align::kRight;
  canvas.Text({body.right() - 66, y + 4}, 66, fmt::format("page {} of {}", number, total), right);
  if (!page.is_demonstration) return;
  canvas.Text({body.x, y + 15}, body.width,
              "Demonstration: the maker is invented, and the photos of the set are simulated.",
              {.size = 7.5, .bold = true, .colour = kInk, .max_lines = 1});
}

}  // namespace

Point PageSize(Paper paper) {
  // ISO 216 A4 is 210 mm by 297 mm; Letter is 8.5 in by 11 in.
  return paper == Paper::kA4 ? Point(595.276, 841.89) : Point(612, 792);
}

Rect BodyOf(Paper paper) {
  const Point size = PageSize(paper);
  return {kMargin, kMargin, size.x() - 2 * kMargin, size.y() - 2 * kMargin - kFooterHeight + 14};
}

Box RegionShown(const Comparison& comparison) {
  Box pixels;
  const std::optional<Box> lettering = LetteringBox(comparison);
  if (!lettering) return pixels;
  const Box wide = Grown(*lettering, 1.2);
  for (const double x : {wide.min.x(), wide.centre().x(), wide.max.x()}) {
    for (const double y : {wide.min.y(), wide.max.y()}) {
      pixels.Add(comparison.measured.placement.ToPhoto({x, y}));
    }
  }
  return pixels;
}

std::string FooterOf(const Material& material) {
  const Comparison& c = material.comparison;
  return fmt::format("report {} · photo {} (SHA-256 {}…) · {} · debossier {}",
                     material.report_number, c.photo.file, ShortHash(c.photo.sha256), SetInWords(c),
                     c.program_version);
}

void Describe(Canvas& canvas, const std::string& title, const std::string& subject,
              const std::string& program) {
  canvas.SetTitle(title, subject, "debossier " + program);
  const std::optional<std::string> date = SourceDate();
  canvas.SetCreationDate(date ? date->c_str() : nullptr);
}

void PlanPhoto(const Material& material, Canvas& canvas, Pages& pages) {
  PlanFinding(material, canvas, pages);
  PlanDepartures(material, canvas, pages);
  PlanStrips(material, canvas, pages);
  PlanSentences(material, canvas, pages);
  PlanMeasurements(material, canvas, pages);
  PlanPlates(material, canvas, pages);
  PlanProvenance(material, canvas, pages);
}

void SetFooters(const std::string& footer, bool is_demonstration, Pages& pages) {
  for (Page& page : pages) {
    if (!page.footer.empty()) continue;
    page.footer = footer;
    page.is_demonstration = is_demonstration;
  }
}

void DrawPages(Canvas& canvas, const Rect& body, const Pages& pages) {
  for (std::size_t i = 0; i < pages.size(); ++i) {
    if (!pages[i].bookmark.empty()) {
      canvas.AddBookmark(pages[i].bookmark, static_cast<int>(i) + 1);
    }
    {
      const Tag section(canvas, "Sect");
      pages[i].draw(canvas);
    }
    DrawFooter(canvas, body, pages[i], i + 1, pages.size());
    canvas.EndPage();
  }
}

Result<std::string> OverlayPdf(const Comparison& comparison, const image::Photo& photo,
                               const PdfOptions& options, const VerifiedPicture* verified) {
  const Point size = PageSize(options.paper);
  Canvas canvas(size.x(), size.y(), options.font_family);
  const PhotoImage photo_image(photo, RegionShown(comparison));
  const Material material =
      GatherMaterial(comparison, photo, verified, options, photo_image, BodyOf(options.paper));
  Describe(canvas, "Lettering comparison: " + comparison.photo.file,
           fmt::format("{}: {}", Headline(comparison.finding), SetInWords(comparison)),
           comparison.program_version);
  Pages pages;
  PlanPhoto(material, canvas, pages);
  PlanMethod(material, canvas, pages);
  SetFooters(FooterOf(material), comparison.refset_simulated, pages);
  DrawPages(canvas, material.body, pages);
  return canvas.Finish();
}

}  // namespace debossier::report
