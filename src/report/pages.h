// The pages of the report: each Plan...() lists its pages, which are then drawn in order.
//
// Planning lays out what must be known for the page count; drawing fills one page's body.
// Frame: page points, y down.
#pragma once

#include <functional>
#include <map>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

#include "compare/comparison.h"
#include "drawing/canvas.h"
#include "drawing/photo_image.h"
#include "report/overlay_pdf.h"
#include "report/verified.h"
#include "report/view.h"

namespace debossier::report {

/// A straightened picture, and as it goes into the document.
struct Exhibit {
  Straightened picture;
  std::optional<PhotoImage> image;
  bool empty() const { return !image; }
};

/// What all pages draw from.
struct Material {
  const compare::Comparison& comparison;
  const PdfOptions& options;
  const PhotoImage& photo;
  Rect body;                         ///< The part of a page between margins and footer.
  std::optional<Box> lettering_box;  ///< As LetteringBox() gives it.
  std::map<std::string, std::size_t> element_idx;  ///< Of reference.elements, by id.
  std::map<std::string, std::size_t> found_idx;  ///< Of measured.elements, by id; found ones only.
  std::map<std::string, Box> boxes;  ///< Reference and found outline of each element together.
  std::set<std::string> departing;   ///< Elements that depart by themselves or with their line.
  /// Pairs whose distance departs: left and right element.
  std::set<std::pair<std::string, std::string>> departing_gaps;
  Exhibit questioned;
  Exhibit verified;           ///< Of the clearest verified item whose photo is kept.
  std::string verified_item;  ///< Its id.
  std::string no_verified;    ///< Why there is none.
  std::string report_number;  ///< As given, or made from what the report is of.
  std::string part;           ///< "photo 2 of 3" of a dossier; else empty.

  const outline::Element* Reference(const std::string& id) const;
  const measure::ElementMeasurement* Found(const std::string& id) const;
};

/// Box of the reference and found outlines, stamp frame; none where nothing was found or the
/// placement cannot be drawn.
std::optional<Box> LetteringBox(const compare::Comparison& comparison);

/// `photo_image` is `photo` as the document holds it; `verified` may be null.
Material GatherMaterial(const compare::Comparison& comparison, const image::Photo& photo,
                        const VerifiedPicture* verified, const PdfOptions& options,
                        const PhotoImage& photo_image, const Rect& body);

/// The elements that a feature or reason is about: the letters of a line where it names a line, the
/// last letter and the mark for the distance between them. Names that are unknown, and "frame",
/// give none.
std::vector<std::string> ElementsShown(const outline::Lettering& reference,
                                       const std::string& measure,
                                       const std::vector<std::string>& named);

/// Box of the reference and found outlines of these elements; empty where none is known.
Box BoxOf(const Material& material, const std::vector<std::string>& ids);

struct Page {
  std::string bookmark;  ///< Empty: continues the page before.
  std::function<void(Canvas&)> draw;
  std::string footer = "";        ///< What the page is of; set where pages are put together.
  bool is_demonstration = false;  ///< Of an invented maker.
};
using Pages = std::vector<Page>;

void PlanFinding(const Material& material, Canvas& canvas, Pages& pages);
void PlanDepartures(const Material& material, Canvas& canvas, Pages& pages);
/// What page one shows, for the pages after it.
bool MarkedOnPageOne(const Material& material, Canvas& canvas);
std::size_t ReasonsOnPageOne(const Material& material, Canvas& canvas);
void PlanStrips(const Material& material, Canvas& canvas, Pages& pages);
void PlanSentences(const Material& material, Canvas& canvas, Pages& pages);
void PlanMeasurements(const Material& material, Canvas& canvas, Pages& pages);
void PlanPlates(const Material& material, Canvas& canvas, Pages& pages);
void PlanProvenance(const Material& material, Canvas& canvas, Pages& pages);
void PlanMethod(const Material& material, Canvas& canvas, Pages& pages);

/// What stands over a table of measurements.
struct TableWords {
  std::string heading;
  std::string note;
  std::string if_empty;  ///< Where there are none.
};
/// All values of a comparison, which outlives the pages.
void PlanTable(const compare::Comparison& comparison, const Rect& body, const TableWords& words,
               Canvas& canvas, Pages& pages);

/// Pages of one photo's report but the method.
void PlanPhoto(const Material& material, Canvas& canvas, Pages& pages);
/// "report 17 · photo a.jpg (SHA-256 0f3a...) · set talvenne, revision 3 · debossier 0.3.0".
std::string FooterOf(const Material& material);
/// Of the pages that have none.
void SetFooters(const std::string& footer, bool is_demonstration, Pages& pages);
/// Draws all pages with bookmarks and numbered footers.
void DrawPages(Canvas& canvas, const Rect& body, const Pages& pages);
/// What pages leave for content between margins and footer.
Rect BodyOf(Paper paper);
/// Title, subject, program and date of the document.
void Describe(Canvas& canvas, const std::string& title, const std::string& subject,
              const std::string& program);
/// The part of the photo that pages show enlarged: the lettering and some ground around it.
Box RegionShown(const compare::Comparison& comparison);

/// A page heading with a rule; returns the y below it.
double DrawHeading(Canvas& canvas, const Rect& body, const std::string& heading,
                   const std::string& note = "");

/// How an element is drawn over a photo or on white ground.
enum class Layer {
  kReference,  ///< Where the reference has it.
  kFound,      ///< The reference's outline moved to where the element was found.
  kFoilEdge,   ///< The edge of the foil with all its holes.
  kItem,       ///< The edge of the foil without specks; kFound where no edge was traced.
};
/// Adds one element to the current path.
void AddElement(Canvas& canvas, const Material& material, const View& view, Layer layer,
                const std::string& id);
void DrawElements(Canvas& canvas, const Material& material, const View& view, Layer layer,
                  const std::set<std::string>& ids, const LineStyle& style);
/// Strokes a box around each departing element that was not found.
void DrawMissingBoxes(Canvas& canvas, const Material& material, const View& view, bool halo);
/// Two upright bars at the edges of each departing gap, joined below.
void DrawGapMarks(Canvas& canvas, const Material& material, const View& view, bool halo);
/// Strokes the rule of the reference's frame, if any.
void DrawReferenceFrame(Canvas& canvas, const Material& material, const View& view,
                        const LineStyle& style);

/// The usual line styles.
LineStyle ReferenceStyle(double width = 0.7, bool halo = false);
LineStyle FoundStyle(double width = 0.6, bool halo = false);
LineStyle DepartsStyle(double width = 1.1, bool halo = false);

/// One entry of a legend: a sample line or hatch and its words.
struct LegendEntry {
  enum class Kind { kReference, kFound, kDeparts, kMissing, kExtra } kind;
  std::string words;
};
/// Draws entries in a row that wraps at `width`; returns the height used.
double DrawLegend(Canvas& canvas, const Point& corner, double width,
                  const std::vector<LegendEntry>& entries);

/// Hatches of missing foil, of extra foil and of departing elements within the current clip.
void HatchMissing(Canvas& canvas, const Rect& area);
void HatchExtra(Canvas& canvas, const Rect& area);
void HatchDeparting(Canvas& canvas, const Rect& area);

/// A number in a filled circle that joins a reason with its place in the photo.
void DrawCallout(Canvas& canvas, const Point& centre, int number);

}  // namespace debossier::report
