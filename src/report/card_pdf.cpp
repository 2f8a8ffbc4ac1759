#include "report/card_pdf.h"

#include <fmt/format.h>

#include <numbers>

#include "base/version.h"
#include "card/design.h"
#include "drawing/canvas.h"

namespace debossier::report {
namespace {

constexpr double kPoints = 72 / 25.4;  // a millimetre
constexpr Colour kBlack{0, 0, 0};

Point OnPage(const Point& card_mm) { return kPoints * (Point(kCardLeftMm, kCardTopMm) + card_mm); }

void AddSector(cairo_t* cr, const Point& middle, double from, double to) {
  const double inner = kPoints * card::kRingInnerMm, outer = kPoints * card::kRingOuterMm;
  cairo_new_sub_path(cr);
  cairo_arc(cr, middle.x(), middle.y(), outer, from, to);
  cairo_arc_negative(cr, middle.x(), middle.y(), inner, to, from);
  cairo_close_path(cr);
}

// Runs of black sectors are one shape each: no hairlines between them in any viewer.
void DrawFiducial(Canvas& canvas, const card::Fiducial& fiducial) {
  cairo_t* cr = canvas.cr();
  const Point middle = OnPage(fiducial.centre);
  canvas.SetColour(kBlack);
  cairo_new_sub_path(cr);
  cairo_arc(cr, middle.x(), middle.y(), kPoints * card::kDotMm, 0, 2 * std::numbers::pi);
  cairo_close_path(cr);
  const auto black = [&](int i) { return ((fiducial.code >> (i % card::kSectors)) & 1) != 0; };
  constexpr double kSector = 2 * std::numbers::pi / card::kSectors;
  for (int i = 0; i < card::kSectors; ++i) {
    if (!black(i) || black(i + card::kSectors - 1)) continue;
    int end = i;
    while (black(end)) ++end;
    AddSector(cr, middle, kSector * i, kSector * end);
  }
  cairo_fill(cr);
}

void DrawOutlines(Canvas& canvas) {
  const Point corner = OnPage({0, 0});
  canvas.Frame({corner.x(), corner.y(), kPoints * card::kWidthMm, kPoints * card::kHeightMm},
               kBlack, 0.35);
  cairo_t* cr = canvas.cr();
  const Point a = OnPage({card::kArmMm, card::kHeightMm});
  const Point b = OnPage({card::kArmMm, card::kArmMm});
  const Point c = OnPage({card::kWidthMm, card::kArmMm});
  cairo_move_to(cr, a.x(), a.y());
  cairo_line_to(cr, b.x(), b.y());
  cairo_line_to(cr, c.x(), c.y());
  canvas.Stroke({kQuietInk, 0.35, true});
}

void DrawCard(Canvas& canvas) {
  const FigureTag tag(canvas, "Scale card to cut out and lay beside the stamp.");
  DrawOutlines(canvas);
  for (const card::Fiducial& fiducial : card::Fiducials()) DrawFiducial(canvas, fiducial);
  const TextStyle quiet{.size = 6.5, .colour = kQuietInk};
  const Point at = OnPage({card::kArmMm + 5, card::kArmMm + 8});
  canvas.Text(at, 48 * kPoints, fmt::format("debossier scale card {}\n", card::kVersion), quiet);
  canvas.Text(at + Point(0, 12), 58 * kPoints,
              "Cut this window out along the dashed line if the stamp fits into it; else leave it "
              "in.",
              quiet);
}

// The check line: 100 mm between the outer ticks, with a tick each centimetre.
void DrawCheckLine(Canvas& canvas, double top_mm) {
  const FigureTag tag(canvas, "A line of 100 mm with a tick each centimetre, to check the print.");
  const Point from(kPoints * kCardLeftMm, kPoints * (top_mm + 4));
  canvas.Line(from, from + Point(kPoints * card::kCheckLengthMm, 0), kBlack, 0.35);
  for (int cm = 0; cm <= 10; ++cm) {
    const Point at = from + Point(10 * cm * kPoints, 0);
    const double reach = kPoints * (cm == 0 || cm == 10 ? 4 : cm == 5 ? 2 : 1.2);
    canvas.Line(at - Point(0, reach), at + Point(0, reach), kBlack, 0.35);
  }
  canvas.TextCentred(from + Point(kPoints * card::kCheckLengthMm + 8, 0),
                     fmt::format("{:.0f} mm", card::kCheckLengthMm), {.size = 9}, Align::kLeft);
}

double DrawSteps(Canvas& canvas, double top, double width) {
  const char* const kSteps[] = {
      "Print this page at 100 % (“actual size”), not fitted to the page, on stiff white paper "
      "without gloss.",
      "Measure the check line between the middles of its outer ticks. If it is not 100 mm, give "
      "what it measures: --card-check-mm 98.5, say. A bank card covers the card's outline exactly "
      "where the print is right.",
      "Cut the card out along its outer line. Leave the marks whole.",
      "Lay the card flat beside the stamp, or with its window cut out around it, on the leather "
      "itself: in the same plane, not higher and not tilted against it. Do not bend it, and hold "
      "it down where it curls.",
      "Photograph card and stamp together, from straight above as far as you can, with all marks "
      "in the picture, sharp and without glare. Then add --card to the command.",
  };
  double y = top;
  int number = 1;
  for (const char* step : kSteps) {
    const Tag tag(canvas, "P");
    canvas.Text({kPoints * kCardLeftMm, y}, 14, fmt::format("{}.", number++), {.size = 10});
    y += canvas.Text({kPoints * kCardLeftMm + 16, y}, width - 16, step, {.size = 10}) + 5;
  }
  return y;
}

}  // namespace

Result<std::string> CardPdf(const PdfOptions& options) {
  const Point size = PageSize(options.paper);
  Canvas canvas(size.x(), size.y(), options.font_family);
  canvas.SetTitle(fmt::format("Scale card {}", card::kVersion), "Print at 100 %",
                  std::string("debossier ") + kVersion);
  canvas.SetCreationDate(nullptr);
  const double left = kPoints * kCardLeftMm;
  const double width = size.x() - 2 * left;
  {
    const Tag tag(canvas, "H1");
    canvas.Text({left, kPoints * 18}, width, "Scale card", {.size = 20, .bold = true});
  }
  {
    const Tag tag(canvas, "P");
    canvas.Text({left, kPoints * 29}, width,
                "Laid beside a stamp in a photo, it gives lengths in millimetres.", {.size = 10});
  }
  DrawCard(canvas);
  const double below = kCardTopMm + card::kHeightMm;
  DrawCheckLine(canvas, below + 10);
  DrawSteps(canvas, kPoints * (below + 26), width);
  canvas.EndPage();
  return canvas.Finish();
}

}  // namespace debossier::report
