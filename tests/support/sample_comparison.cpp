#include "support/sample_comparison.h"

#include <Eigen/Geometry>
#include <algorithm>
#include <cmath>
#include <numbers>
#include <string_view>

#include "base/files.h"
#include "base/version.h"
#include "support/sample_letters.h"
#include "support/sample_picture.h"

namespace debossier::test_support {
namespace {

using compare::Comparison;
using compare::Feature;
using compare::Finding;
using outline::Box;
using outline::Outline;
using outline::Point;

constexpr double kLetterGap = 0.13;  // of the line's cap height
constexpr double kWordGap = 0.45;

// Numbers between -1 and 1 from a linear congruential generator (Numerical Recipes' constants).
class Numbers {
 public:
  double Next() {
    state_ = state_ * 1664525u + 1013904223u;
    return static_cast<double>(state_ >> 8) / double(1 << 23) - 1;
  }

 private:
  std::uint32_t state_ = 20240229;
};

// Sets `text` from the sample letters and adds it to `lettering`; returns the right edge.
double AddLine(outline::Lettering& lettering, const std::string& id, const std::string& text,
               double height, double left, double baseline) {
  const int line_idx = static_cast<int>(lettering.lines.size());
  lettering.lines.push_back({id, text, baseline, height, 0});
  double x = left;
  for (std::size_t i = 0; i < text.size(); ++i) {
    if (text[i] == ' ') {
      x += (kWordGap - kLetterGap) * height;
      continue;
    }
    outline::Affine map;
    map.linear *= height;
    map.offset = {x, baseline};
    const Outline placed = outline::Transformed(SampleLetter(text[i]), map);
    lettering.elements.push_back({id + "." + std::to_string(i), line_idx,
                                  outline::ElementKind::kLetter, std::string(1, text[i]), placed});
    x = outline::Bounds(placed).max.x() + kLetterGap * height;
  }
  return x - kLetterGap * height;
}

outline::Lettering SampleLettering() {
  outline::Lettering lettering;
  const double right = AddLine(lettering, "wordmark", "TALVENNE", 1, 0, 0);
  AddLine(lettering, "origin", "MADE IN ELVANTE", 0.42, 1.0, -0.95);
  outline::Affine map;
  map.linear *= 0.34;
  map.offset = {right + 0.12, 0.66};
  lettering.elements.push_back(
      {"mark", 0, outline::ElementKind::kMark, "®", outline::Transformed(SampleLetter('R'), map)});
  return lettering;
}

fit::Placement PlacementOf(const outline::Lettering& lettering, const cv::Size& size,
                           double turn_deg) {
  const Box box = outline::Bounds(lettering);
  const double a = turn_deg * std::numbers::pi / 180;
  const double turned_width =
      std::abs(std::cos(a)) * box.width() + std::abs(std::sin(a)) * box.height();
  const double turned_height =
      std::abs(std::sin(a)) * box.width() + std::abs(std::cos(a)) * box.height();
  const double scale = 0.76 * std::min(size.width / turned_width, size.height / turned_height);
  Eigen::Matrix3d centred = Eigen::Matrix3d::Identity();
  centred.topRightCorner<2, 1>() = -box.centre();
  Eigen::Matrix3d turned;
  turned << scale * std::cos(a), -scale * std::sin(a), size.width / 2.0,  //
      -scale * std::sin(a), -scale * std::cos(a), size.height / 2.0,      //
      0, 0, 1;
  Eigen::Matrix3d tilted = Eigen::Matrix3d::Identity();
  tilted(2, 0) = 0.004;
  tilted(2, 1) = 0.003;
  fit::Placement placement;
  placement.photo_from_stamp = turned * tilted * centred;
  placement.photo_from_stamp /= placement.photo_from_stamp(2, 2);
  placement.stretch = {box.centre().x(), box.width() / 2, {0.004, -0.002}, {0.003, 0.001}};
  placement.gain = 0.008;
  placement.blur_px = 1.1;
  return placement;
}

// Where the sample's die differs: the mark stands off, one E is of another cut, one pair is wide.
Point DieShift(const std::string& id, Finding finding) {
  if (finding != Finding::kDeparts) return Point::Zero();
  if (id == "mark") return {0.061, 0.012};
  if (id == "wordmark.3") return {0.02, 0};
  return Point::Zero();
}

bool HasOtherForm(const std::string& id, Finding finding) {
  return finding == Finding::kDeparts && id == "wordmark.4";
}

measure::ElementMeasurement MeasuredElement(const outline::Element& element,
                                            const fit::Placement& placement, Finding finding,
                                            Numbers& numbers) {
  measure::ElementMeasurement m;
  const Box reference = outline::Bounds(element.outline);
  m.id = element.id;
  m.line_idx = element.line_idx;
  m.is_mark = element.kind == outline::ElementKind::kMark;
  m.character = element.character;
  m.found = true;
  m.found_as = element.character;
  m.letter_case = m.is_mark ? measure::LetterCase::kNone : measure::LetterCase::kCapital;
  outline::Affine shift;
  shift.offset = DieShift(element.id, finding) + 0.002 * Point(numbers.Next(), numbers.Next());
  m.outline = outline::Transformed(element.outline, shift);
  m.box = outline::Bounds(m.outline);
  m.offset = m.box.centre() - reference.centre();
  m.u_centre = {0.0012, 0.0014};
  m.u_size = {0.0018, 0.0019};
  m.height_ratio = {m.box.height() * (1 + 0.003 * numbers.Next()), 0.0019};
  m.width = {m.box.width(), 0.0018};
  m.relative_height = {m.box.height() / reference.height(), 0.002};
  m.relative_width = {m.box.width() / reference.width(), 0.002};
  m.stroke = {0.14 * reference.height(), 0.003};
  m.slant_deg = {0.2 * numbers.Next(), 0.15};
  m.base_offset = {0.002 * numbers.Next(), 0.0015};
  const bool other = HasOtherForm(element.id, finding);
  m.shape.rms = other ? 0.041 : 0.011 + 0.002 * numbers.Next();
  m.shape.p95 = 2 * m.shape.rms;
  m.shape.smooth_rms = other ? 0.036 : 0.006 + 0.001 * numbers.Next();
  m.shape.u = 0.0011;
  m.shape.missing = other ? 0.11 : 0.04;
  m.shape.extra = other ? 0.10 : 0.015;
  m.shape.signed_missing_rms = m.shape.rms;
  m.shape.signed_extra_rms = 0.5 * m.shape.rms;
  m.quad_px = {placement.ToPhoto(m.box.min), placement.ToPhoto({m.box.max.x(), m.box.min.y()}),
               placement.ToPhoto(m.box.max), placement.ToPhoto({m.box.min.x(), m.box.max.y()})};
  return m;
}

// A feature `z` predictive standard deviations off, with seven verified items.
Feature MakeFeature(std::string measure, std::vector<std::string> elements, std::string label,
                    std::string unit, double expected, double scale, double z, Numbers& numbers) {
  Feature f;
  f.measure = std::move(measure);
  f.elements = std::move(elements);
  f.label = std::move(label);
  f.unit = std::move(unit);
  f.expected = expected;
  f.spread = scale;
  f.u = 0.6 * scale;
  f.z = z;
  f.value = expected + z * Combine(f.u, f.spread);
  f.departs = std::abs(z) > 4;
  for (int i = 0; i < 7; ++i) f.items.push_back(expected + 1.5 * scale * numbers.Next());
  return f;
}

void AddGapFeatures(Comparison& c, Numbers& numbers) {
  const auto& elements = c.measured.elements;
  for (std::size_t i = 1; i < elements.size(); ++i) {
    const auto& left = elements[i - 1];
    const auto& right = elements[i];
    if (left.line_idx != right.line_idx || right.is_mark) continue;
    const bool wide = left.id == "wordmark.2" && c.finding == Finding::kDeparts;
    const std::string label = "gap " + left.character + "–" + right.character;
    const double expected = right.box.min.x() - left.box.max.x() - (wide ? 0.02 : 0);
    c.features.push_back(MakeFeature("gap", {left.id, right.id}, label, "cap heights", expected,
                                     0.0031, wide ? 5.6 : 1.3 * numbers.Next(), numbers));
    const Feature& f = c.features.back();
    c.measured.gaps.push_back({left.id, right.id, {f.value, f.u}, {f.value - expected, f.u}});
  }
}

void AddLetterFeatures(Comparison& c, Numbers& numbers) {
  for (const auto& element : c.measured.elements) {
    const std::string where = element.character + " (" + element.id + ")";
    c.features.push_back(MakeFeature("letter height", {element.id}, "height of " + where, "ratio",
                                     element.height_ratio.value, 0.0034, 1.4 * numbers.Next(),
                                     numbers));
    const bool other = HasOtherForm(element.id, c.finding);
    c.features.push_back(MakeFeature("letterform", {element.id}, "form of " + where, "cap heights",
                                     other ? 0.008 : element.shape.smooth_rms, 0.0016,
                                     other ? 15.2 : 1.2 * numbers.Next(), numbers));
  }
}

void AddLineFeatures(Comparison& c, Numbers& numbers) {
  const bool departs = c.finding == Finding::kDeparts;
  c.features.push_back(MakeFeature("mark gap", {"mark"}, "gap to the mark ®", "cap heights", 0.120,
                                   0.0042, departs ? 12.4 : 0.3, numbers));
  const Feature gap = c.features.back();
  c.measured.mark = {"®", true, {gap.value, gap.u}, {0.341, 0.002}, {0.668, 0.002}};
  c.features.push_back(MakeFeature("mark size", {"mark"}, "size of the mark ®", "cap heights",
                                   0.340, 0.003, 0.4, numbers));
  c.features.push_back(MakeFeature("mark rise", {"mark"}, "rise of the mark ®", "cap heights",
                                   0.660, 0.004, departs ? 2.4 : -0.4, numbers));
  c.features.push_back(MakeFeature("line height", {"origin"}, "height of the origin line", "ratio",
                                   0.42, 0.0028, -0.8, numbers));
  c.features.push_back(MakeFeature("tracking", {"origin"}, "tracking of the origin line",
                                   "cap heights", 0.001, 0.0021, 0.9, numbers));
  c.features.push_back(MakeFeature("slant", {"wordmark"}, "slant of the wordmark", "degrees", 0.02,
                                   0.11, -0.5, numbers));
}

/// The sentences that belong to the sample's features, each as far off as its feature.
void AddSentences(Comparison& c) {
  for (const Feature& f : c.features) {
    if (f.measure == "letterform" || f.measure == "slant") continue;
    compare::TriedSentence s;
    s.key = "sample-sentence";
    for (const auto& id : f.elements) s.key += " " + id;
    s.measure = f.measure;
    s.elements = f.elements;
    s.label = f.label;
    s.unit = f.unit;
    s.amplitude = f.value - f.expected;
    s.u = Combine(f.u, f.spread);
    s.z = f.z;
    s.level = 3.9;
    if (f.measure == "letter height") {
      s.beyond = compare::MeasuredShare{1, 600};
    } else {
      s.p = std::erfc(std::abs(f.z) / std::numbers::sqrt2);
    }
    s.limit = 5.2 * s.u;
    s.departs = f.departs;
    s.decidable = f.measure != "tracking";
    s.text = f.label + " is off.";
    c.sentences.push_back(std::move(s));
  }
}

void AddReason(Comparison& c, std::string_view measure, std::string text, double effect) {
  for (const auto& s : c.sentences) {
    if (s.measure != measure || !s.departs) continue;
    c.reasons.push_back({s.measure, s.elements, s.amplitude, s.u, s.unit, s.z, s.level, s.p, effect,
                         std::move(text)});
    return;
  }
}

void Conclude(Comparison& c) {
  switch (c.finding) {
    case Finding::kDeparts:
      c.summary = "Three measures lie outside what the verified items of this set show.";
      c.reasons.push_back(
          {"letterform",
           {"wordmark.4"},
           0,
           0,
           "category",
           0,
           0,
           {},
           0,
           "The 5th letter of the wordmark, E, has another form: its edge lies 3.6 % of the "
           "cap height from the reference on average (U = 0.2 %, k = 2); the verified items "
           "lie within 1.1 %."});
      AddReason(c, "mark gap",
                "The mark ® stands 18.1 % of the cap height from the last letter (U = 0.5 %, "
                "k = 2); on the verified items it stands 12.0 % away, give or take 0.4 %.",
                6.1);
      AddReason(c, "gap",
                "The gap between L and V in the wordmark is 2.0 % of the cap height wider than on "
                "the verified items (U = 0.4 %, k = 2).",
                2.0);
      c.score = 15.2;
      break;
    case Finding::kNoDepartureFound:
      c.summary =
          "Everything measured on this photo lies within what the verified items of this set show.";
      c.score = 1.9;
      break;
    case Finding::kCannotTell:
      c.summary =
          "The photo is too blurred to show a departure of the size that this set asks for.";
      c.advice = {
          "Photograph the lettering again from straight above, so that it fills the width "
          "of the picture.",
          "Hold the phone still or rest it on something; the edges are blurred by 4 px."};
      c.reasons.push_back({"gap",
                           {},
                           0,
                           0,
                           "category",
                           0,
                           0,
                           {},
                           0,
                           "The gaps between letters could be told to 4.1 % of the cap height; "
                           "this set asks for 2 %."});
      for (auto& tried : c.sentences) tried.decidable = tried.measure == "letter height";
      c.score = 1.2;
      break;
  }
}

void Describe(Comparison& c) {
  c.refset_id = "talvenne-wallets-1968";
  c.refset_revision = 3;
  c.refset_maker = "Talvenne";
  c.refset_period = "1968 to 1974";
  c.refset_items = 7;
  c.refset_simulated = true;
  c.program_version = kVersion;
  c.options = {{"false_flag_rate", "0.005"}, {"stretch", "smooth"}, {"max_tilt_deg", "20"}};
  c.measured.gain = {0.008, 0.002};
  c.measured.quality = {92, 1.1, 2.4, 6, 0.91, 8.4, 0.012, {}};
  c.measured.lines = {{"wordmark",
                       "TALVENNE",
                       measure::LineCase::kCapitals,
                       {1, 0},
                       {},
                       {1, 0},
                       {1, 0},
                       {},
                       {},
                       {}},
                      {"origin",
                       "MADE IN ELVANTE",
                       measure::LineCase::kCapitals,
                       {0.4198, 0.0013},
                       {},
                       {0.4198, 0.0013},
                       {0.9995, 0.003},
                       {0.002, 0.003},
                       {-0.001, 0.003},
                       {0.001, 0.002}}};
  c.measured.frame.decided = true;
  c.measured.warnings = {{"separate", "origin.13", "Little foil is left on this letter"}};
}

void AttachPhoto(Sample& sample, const SamplePicture& picture) {
  sample.photo = picture.photo;
  sample.comparison.photo = {picture.photo.file, picture.photo.sha256, picture.photo.bgr.cols,
                             picture.photo.bgr.rows};
}

}  // namespace

Sample MakeSample(const SampleOptions& options) {
  Sample sample;
  Comparison& c = sample.comparison;
  Numbers numbers;
  c.finding = options.finding;
  c.reference = SampleLettering();
  const cv::Size size(1120, 640);
  c.measured.placement = PlacementOf(c.reference, size, options.turn_deg);
  Describe(c);
  std::vector<Outline> stamped;
  for (const outline::Element& element : c.reference.elements) {
    c.measured.elements.push_back(
        MeasuredElement(element, c.measured.placement, c.finding, numbers));
    outline::Affine map;
    const auto& found = c.measured.elements.back();
    map.offset = found.box.min;
    stamped.push_back(HasOtherForm(element.id, c.finding) ? outline::Transformed(OtherE(), map)
                                                          : found.outline);
  }
  AddGapFeatures(c, numbers);
  AddLetterFeatures(c, numbers);
  AddLineFeatures(c, numbers);
  AddSentences(c);
  Conclude(c);
  const PictureOptions wish{size, options.extension, options.exif_orientation, options.grey};
  SamplePicture picture = DrawSamplePicture(stamped, c.measured.placement, wish);
  for (std::size_t i = 0; i < stamped.size(); ++i) {
    c.measured.elements[i].foil_edge_px = std::move(picture.foil_edges[i]);
  }
  AttachPhoto(sample, picture);
  return sample;
}

Sample MakeEmptySample() {
  Sample sample;
  Comparison& c = sample.comparison;
  c.finding = Finding::kCannotTell;
  c.reference = SampleLettering();
  c.refset_id = "talvenne-wallets-1968";
  c.refset_revision = 3;
  c.program_version = kVersion;
  c.summary = "No lettering of this set was found in the photo.";
  AttachPhoto(sample, DrawSamplePicture({}, {}, {cv::Size(640, 480), ".jpg", 1, false}));
  return sample;
}

Sample MakeCrowdedSample(int count) {
  Sample sample;
  Comparison& c = sample.comparison;
  Numbers numbers;
  c.finding = Finding::kDeparts;
  constexpr int kPerLine = 25;
  const std::string alphabet = "TALVENIMD";
  for (int first = 0; first < count; first += kPerLine) {
    std::string text;
    for (int i = first; i < std::min(count, first + kPerLine); ++i) {
      text += alphabet[i * 7 % alphabet.size()];
    }
    AddLine(c.reference, first == 0 ? "wordmark" : "line" + std::to_string(first / kPerLine + 1),
            text, 1, 0, -1.4 * (first / kPerLine));
  }
  c.measured.placement = PlacementOf(c.reference, cv::Size(1600, 900), 0);
  Describe(c);
  c.summary = "Every letter departs.";
  std::vector<Outline> stamped;
  for (const outline::Element& element : c.reference.elements) {
    c.measured.elements.push_back(
        MeasuredElement(element, c.measured.placement, c.finding, numbers));
    stamped.push_back(element.outline);
    const std::string label = "form of " + element.character + " (" + element.id + ")";
    c.features.push_back(MakeFeature("letterform", {element.id}, label, "cap heights", 0.008,
                                     0.0016, 9 + numbers.Next(), numbers));
    c.reasons.push_back({"letterform",
                         {element.id},
                         0,
                         0,
                         "category",
                         0,
                         0,
                         {},
                         2,
                         "The form of " + element.id + " is another."});
  }
  AddGapFeatures(c, numbers);
  SamplePicture picture =
      DrawSamplePicture(stamped, c.measured.placement, {cv::Size(1600, 900), ".jpg", 1, false});
  for (std::size_t i = 0; i < stamped.size(); ++i) {
    c.measured.elements[i].foil_edge_px = std::move(picture.foil_edges[i]);
  }
  AttachPhoto(sample, picture);
  return sample;
}

}  // namespace debossier::test_support
