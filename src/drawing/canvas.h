// The pages of a PDF document: text in any script, rules, signs and hatches on a Cairo surface.
//
// Frame: points (1/72 inch), y down, origin at the upper left corner of the page.
// Nothing depends on the clock, the locale or the screen: text is laid out unhinted.
// Not for: deciding what to show; the page files do that.
#pragma once

#include <cairo.h>
#include <pango/pangocairo.h>

#include <map>
#include <memory>
#include <string>
#include <string_view>
#include <tuple>
#include <utility>
#include <vector>

#include "base/result.h"
#include "drawing/palette.h"
#include "outline/outline.h"

namespace debossier::report {

using outline::Point;

struct Rect {
  double x = 0;
  double y = 0;
  double width = 0;
  double height = 0;
  double right() const { return x + width; }
  double bottom() const { return y + height; }
  Point centre() const { return {x + width / 2, y + height / 2}; }
  Rect Inset(double by) const { return {x + by, y + by, width - 2 * by, height - 2 * by}; }
};

enum class Align { kLeft, kCentre, kRight };

struct TextStyle {
  double size = 9;  ///< Points.
  bool bold = false;
  Colour colour = kInk;
  Align align = Align::kLeft;
  int max_lines = 0;     ///< 0: as many as the text needs; else it ends in an ellipsis.
  bool shrinks = false;  ///< A single line that is too long is set smaller before it is cut.
};

struct LineStyle {
  Colour colour = kInk;
  double width = 0.8;
  bool dashed = false;
  bool halo = false;  ///< A white line beneath, so that it shows on any leather.
};

class Canvas {
 public:
  /// A document in memory; pages have this size in points.
  Canvas(double width, double height, const std::string& font_family);
  Canvas(const Canvas&) = delete;
  Canvas& operator=(const Canvas&) = delete;
  ~Canvas();

  cairo_t* cr() const { return cr_.get(); }
  double width() const { return width_; }
  double height() const { return height_; }

  void SetTitle(const std::string& title, const std::string& subject, const std::string& creator);
  /// The creation date as ISO 8601, or none. Cairo would write the clock's otherwise.
  void SetCreationDate(const char* iso_8601_or_null);
  void AddBookmark(const std::string& title, int page_number);
  void EndPage();
  /// Closes the document and hands over its bytes; refuses with kInternal where Cairo failed.
  Result<std::string> Finish();

  /// Writes text with its upper left corner at `corner`, wrapped at `width`; returns its height.
  double Text(const Point& corner, double width, std::string_view text, const TextStyle& style);
  /// Writes one line with the middle of its figures at `at`; `align` says which end or middle of
  /// the line stands there.
  void TextCentred(const Point& at, std::string_view text, const TextStyle& style,
                   Align align = Align::kCentre);
  /// The height Text() would return.
  double TextHeight(double width, std::string_view text, const TextStyle& style);
  double TextWidth(std::string_view text, const TextStyle& style);

  void SetColour(const Colour& colour, double alpha = 1);
  void Fill(const Rect& rect, const Colour& colour);
  void Frame(const Rect& rect, const Colour& colour, double line_width);
  void Line(const Point& from, const Point& to, const Colour& colour, double line_width);
  /// Strokes the current path and clears it.
  void Stroke(const LineStyle& style);
  /// Parallel lines within the current clip; `angle_deg` counter-clockwise from horizontal.
  void Hatch(const Rect& area, double angle_deg, double spacing, const Colour& colour,
             double line_width);

  /// Begins a picture of the document's structure; `words` stand for it where it is not seen.
  void BeginFigure(std::string words);
  void BeginTag(const char* name) { cairo_tag_begin(cr(), name, nullptr); }
  void EndTag(const char* name) { cairo_tag_end(cr(), name); }

 private:
  struct Free {
    void operator()(cairo_t* p) const { cairo_destroy(p); }
    void operator()(cairo_surface_t* p) const { cairo_surface_destroy(p); }
    void operator()(PangoContext* p) const { g_object_unref(p); }
    void operator()(PangoLayout* p) const { g_object_unref(p); }
    void operator()(PangoFontDescription* p) const { pango_font_description_free(p); }
  };
  struct LaidOut {
    PangoLayout* layout = nullptr;
    int width = 0;  ///< Pango units, like `height`.
    int height = 0;
    double shift = 0;     ///< To the right, points; for lines that are not set at the left.
    bool is_cut = false;  ///< A single line that does not fit.
  };
  LaidOut LayOut(double width, std::string_view text, const TextStyle& style);
  /// Shaped text, kept: pages are laid out before they are drawn. `width`: Pango units, -1 for any.
  PangoLayout* Shape(int width, const std::string& text, const TextStyle& style);
  PangoFontDescription* Font(const TextStyle& style);

  double width_;
  double height_;
  std::string family_;
  std::string bytes_;
  std::unique_ptr<cairo_surface_t, Free> surface_;
  std::unique_ptr<cairo_t, Free> cr_;
  std::unique_ptr<PangoContext, Free> context_;
  /// By text, width, size, bold, most lines and alignment.
  using LayoutKey = std::tuple<std::string, int, double, bool, int, Align>;
  std::map<LayoutKey, std::unique_ptr<PangoLayout, Free>> layouts_;
  std::map<std::pair<double, bool>, std::unique_ptr<PangoFontDescription, Free>> fonts_;
  std::vector<std::string> figures_;  ///< Their words, in the order of the pages.
};

/// Marks what is drawn during its life as a part of the document's structure ("H1", "P", ...).
class Tag {
 public:
  Tag(Canvas& canvas, const char* name) : canvas_(canvas), name_(name) { canvas_.BeginTag(name_); }
  ~Tag() { canvas_.EndTag(name_); }
  Tag(const Tag&) = delete;
  Tag& operator=(const Tag&) = delete;

 private:
  Canvas& canvas_;
  const char* name_;
};

/// Marks what is drawn during its life as a picture; `words` say what it shows.
class FigureTag {
 public:
  FigureTag(Canvas& canvas, std::string words) : canvas_(canvas) {
    canvas_.BeginFigure(std::move(words));
  }
  ~FigureTag() { canvas_.EndTag("Figure"); }
  FigureTag(const FigureTag&) = delete;
  FigureTag& operator=(const FigureTag&) = delete;

 private:
  Canvas& canvas_;
};

/// Limits drawing to a rectangle during its life, and brings the graphics state back after.
class Clip {
 public:
  Clip(Canvas& canvas, const Rect& rect);
  ~Clip() { cairo_restore(cr_); }
  Clip(const Clip&) = delete;
  Clip& operator=(const Clip&) = delete;

 private:
  cairo_t* cr_;
};

}  // namespace debossier::report
