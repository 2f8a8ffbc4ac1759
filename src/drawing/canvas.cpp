#include "drawing/canvas.h"

#include <cairo-pdf.h>

#include <algorithm>
#include <cmath>
#include <numbers>

#include "base/unicode.h"
#include "drawing/described_pdf.h"

namespace debossier::report {
namespace {

constexpr std::size_t kMaxTextBytes = 4000;
constexpr double kLeastShrink = 0.5;
constexpr double kReachTolerance = 0.5;  // points
constexpr std::size_t kMostLayouts = 2000;
constexpr int kUnlimited = -1;

cairo_status_t AppendBytes(void* closure, const unsigned char* data, unsigned int length) {
  static_cast<std::string*>(closure)->append(reinterpret_cast<const char*>(data), length);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

Canvas::Canvas(double width, double height, const std::string& font_family)
    : width_(width), height_(height), family_(font_family) {
  surface_.reset(cairo_pdf_surface_create_for_stream(AppendBytes, &bytes_, width, height));
  cairo_pdf_surface_restrict_to_version(surface_.get(), CAIRO_PDF_VERSION_1_5);
  cr_.reset(cairo_create(surface_.get()));
  // Curves stay curves in a PDF; Cairo flattens them only to learn how far a stroke reaches.
  cairo_set_tolerance(cr_.get(), kReachTolerance);
  context_.reset(pango_font_map_create_context(pango_cairo_font_map_get_default()));
  pango_cairo_context_set_resolution(context_.get(), 72);
  cairo_font_options_t* unhinted = cairo_font_options_create();
  cairo_font_options_set_hint_style(unhinted, CAIRO_HINT_STYLE_NONE);
  cairo_font_options_set_hint_metrics(unhinted, CAIRO_HINT_METRICS_OFF);
  pango_cairo_context_set_font_options(context_.get(), unhinted);
  cairo_font_options_destroy(unhinted);
  pango_context_set_language(context_.get(), pango_language_from_string("en"));
  pango_context_set_round_glyph_positions(context_.get(), FALSE);
}

Canvas::~Canvas() = default;

void Canvas::SetTitle(const std::string& title, const std::string& subject,
                      const std::string& creator) {
  const auto set = [&](cairo_pdf_metadata_t field, const std::string& value) {
    cairo_pdf_surface_set_metadata(surface_.get(), field, OneLine(value, kMaxTextBytes).c_str());
  };
  set(CAIRO_PDF_METADATA_TITLE, title);
  set(CAIRO_PDF_METADATA_SUBJECT, subject);
  set(CAIRO_PDF_METADATA_CREATOR, creator);
}

void Canvas::SetCreationDate(const char* iso_8601_or_null) {
  cairo_pdf_surface_set_metadata(surface_.get(), CAIRO_PDF_METADATA_CREATE_DATE, iso_8601_or_null);
}

void Canvas::AddBookmark(const std::string& title, int page_number) {
  const std::string target = "page=" + std::to_string(page_number);
  cairo_pdf_surface_add_outline(surface_.get(), CAIRO_PDF_OUTLINE_ROOT,
                                OneLine(title, kMaxTextBytes).c_str(), target.c_str(),
                                CAIRO_PDF_OUTLINE_FLAG_OPEN);
}

void Canvas::BeginFigure(std::string words) {
  figures_.push_back(std::move(words));
  BeginTag("Figure");
}

void Canvas::EndPage() { cairo_show_page(cr()); }

Result<std::string> Canvas::Finish() {
  cairo_status_t status = cairo_status(cr());
  cairo_surface_finish(surface_.get());
  if (status == CAIRO_STATUS_SUCCESS) status = cairo_surface_status(surface_.get());
  if (status != CAIRO_STATUS_SUCCESS) {
    return Refuse(ErrorCode::kInternal, "report", "",
                  std::string("the PDF could not be drawn: ") + cairo_status_to_string(status),
                  "report this photo and set as a fault of the program");
  }
  return Described(bytes_, figures_);
}

PangoFontDescription* Canvas::Font(const TextStyle& style) {
  auto& font = fonts_[{style.size, style.bold}];
  if (!font) {
    font.reset(pango_font_description_new());
    pango_font_description_set_family(font.get(), family_.c_str());
    pango_font_description_set_absolute_size(font.get(), style.size * PANGO_SCALE);
    pango_font_description_set_weight(font.get(),
                                      style.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  }
  return font.get();
}

PangoLayout* Canvas::Shape(int width, const std::string& text, const TextStyle& style) {
  if (layouts_.size() > kMostLayouts) layouts_.clear();
  auto& layout = layouts_[{text, width, style.size, style.bold, style.max_lines, style.align}];
  if (layout) return layout.get();
  layout.reset(pango_layout_new(context_.get()));
  pango_layout_set_wrap(layout.get(), PANGO_WRAP_WORD_CHAR);
  pango_layout_set_auto_dir(layout.get(), FALSE);
  pango_layout_set_line_spacing(layout.get(), 1.12f);
  pango_layout_set_font_description(layout.get(), Font(style));
  pango_layout_set_width(layout.get(), width);
  pango_layout_set_height(layout.get(), style.max_lines > 0 ? -style.max_lines : -1);
  pango_layout_set_ellipsize(layout.get(),
                             style.max_lines > 0 ? PANGO_ELLIPSIZE_END : PANGO_ELLIPSIZE_NONE);
  pango_layout_set_alignment(layout.get(), style.align == Align::kLeft     ? PANGO_ALIGN_LEFT
                                           : style.align == Align::kCentre ? PANGO_ALIGN_CENTER
                                                                           : PANGO_ALIGN_RIGHT);
  pango_layout_set_text(layout.get(), text.data(), static_cast<int>(text.size()));
  return layout.get();
}

Canvas::LaidOut Canvas::LayOut(double width, std::string_view text, const TextStyle& style) {
  const std::string clean = OneLine(text, kMaxTextBytes);
  const int room = width < 0 ? kUnlimited : static_cast<int>(width * PANGO_SCALE);
  constexpr double kNarrowest = 0.25;  // of the size a character; less needs no try on one line
  const bool may_fit = width < 0 || double(clean.size()) * kNarrowest * style.size <= width;
  LaidOut laid;
  // Most texts fit on one line, and looking for a break or an ellipsis shapes them twice.
  if (may_fit) {
    laid.layout = Shape(kUnlimited, clean, {.size = style.size, .bold = style.bold});
    pango_layout_get_size(laid.layout, &laid.width, &laid.height);
    if (room == kUnlimited) return laid;
    if (laid.width <= room) {
      const double part = style.align == Align::kLeft ? 0 : style.align == Align::kCentre ? 0.5 : 1;
      laid.shift = part * (room - laid.width) / PANGO_SCALE;
      return laid;
    }
  }
  laid.is_cut = style.max_lines == 1;
  laid.layout = Shape(room, clean, style);
  pango_layout_get_size(laid.layout, &laid.width, &laid.height);
  return laid;
}

double Canvas::Text(const Point& corner, double width, std::string_view text,
                    const TextStyle& style) {
  LaidOut laid = LayOut(width, text, style);
  if (style.shrinks && laid.is_cut) {
    TextStyle smaller = style;
    const double share = width / TextWidth(text, style);
    smaller.size = std::max(kLeastShrink, std::floor(share * 40) / 40) * style.size;
    laid = LayOut(width, text, smaller);
  }
  SetColour(style.colour);
  cairo_move_to(cr(), corner.x() + laid.shift, corner.y());
  pango_cairo_show_layout(cr(), laid.layout);
  return laid.height / double(PANGO_SCALE);
}

void Canvas::TextCentred(const Point& at, std::string_view text, const TextStyle& style,
                         Align align) {
  const LaidOut laid = LayOut(-1, text, style);
  const double shift = align == Align::kLeft ? 0 : align == Align::kCentre ? 0.5 : 1;
  // Figures and capitals are about 0.72 of the size high in the usual families.
  const double baseline = pango_layout_get_baseline(laid.layout) / double(PANGO_SCALE);
  SetColour(style.colour);
  cairo_move_to(cr(), at.x() - shift * laid.width / PANGO_SCALE,
                at.y() - baseline + 0.36 * style.size);
  pango_cairo_show_layout(cr(), laid.layout);
}

double Canvas::TextHeight(double width, std::string_view text, const TextStyle& style) {
  return LayOut(width, text, style).height / double(PANGO_SCALE);
}

double Canvas::TextWidth(std::string_view text, const TextStyle& style) {
  return LayOut(-1, text, style).width / double(PANGO_SCALE);
}

void Canvas::SetColour(const Colour& colour, double alpha) {
  if (alpha < 1) {
    cairo_set_source_rgba(cr(), colour.red, colour.green, colour.blue, alpha);
  } else {
    cairo_set_source_rgb(cr(), colour.red, colour.green, colour.blue);
  }
}

void Canvas::Fill(const Rect& rect, const Colour& colour) {
  SetColour(colour);
  cairo_rectangle(cr(), rect.x, rect.y, rect.width, rect.height);
  cairo_fill(cr());
}

void Canvas::Frame(const Rect& rect, const Colour& colour, double line_width) {
  cairo_rectangle(cr(), rect.x, rect.y, rect.width, rect.height);
  Stroke({colour, line_width});
}

void Canvas::Line(const Point& from, const Point& to, const Colour& colour, double line_width) {
  cairo_move_to(cr(), from.x(), from.y());
  cairo_line_to(cr(), to.x(), to.y());
  Stroke({colour, line_width});
}

void Canvas::Stroke(const LineStyle& style) {
  cairo_set_line_join(cr(), CAIRO_LINE_JOIN_ROUND);
  if (style.halo) {
    SetColour(kWhite, 0.75);
    cairo_set_line_width(cr(), style.width + std::min(1.3, 1.5 * style.width));
    cairo_stroke_preserve(cr());
  }
  if (style.dashed) {
    const double dashes[] = {3.2, 1.8};
    cairo_set_dash(cr(), dashes, 2, 0);
  }
  SetColour(style.colour);
  cairo_set_line_width(cr(), style.width);
  cairo_stroke(cr());
  if (style.dashed) cairo_set_dash(cr(), nullptr, 0, 0);
}

void Canvas::Hatch(const Rect& area, double angle_deg, double spacing, const Colour& colour,
                   double line_width) {
  const double angle = angle_deg * std::numbers::pi / 180;
  const Point along(std::cos(angle), -std::sin(angle));
  const Point across(-along.y(), along.x());
  const double reach = 0.5 * std::hypot(area.width, area.height);
  const int lines = std::min(2000, static_cast<int>(reach / spacing) + 1);
  for (int i = -lines; i <= lines; ++i) {
    const Point middle = area.centre() + across * (i * spacing);
    const Point from = middle - along * reach;
    const Point to = middle + along * reach;
    cairo_move_to(cr(), from.x(), from.y());
    cairo_line_to(cr(), to.x(), to.y());
  }
  Stroke({colour, line_width});
}

Clip::Clip(Canvas& canvas, const Rect& rect) : cr_(canvas.cr()) {
  cairo_save(cr_);
  cairo_rectangle(cr_, rect.x, rect.y, rect.width, rect.height);
  cairo_clip(cr_);
}

}  // namespace debossier::report
