#include "reading/read_text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>
#include <opencv2/imgproc.hpp>
#include <optional>

#include "reading/components.h"
#include "reading/find_rule.h"
#include "reading/row_cuts.h"
#include "reading/skew.h"

namespace debossier::reading {

namespace {

using Point2 = outline::Point;

constexpr double kPlausibleCost = 9.0;

/// The mask turned so that rows are level, its components, and which of them are the frame.
struct UprightMask {
  double skew_rad = 0;
  cv::Matx23d upright_from_map;
  cv::Mat mask;
  cv::Mat labels;
  std::vector<Component> components;  ///< Lettering candidates only.
  std::vector<Component> frame;
  std::optional<Rule> rule;  ///< Found on its own and taken out of `mask` beforehand.
  cv::Mat rule_pixels;
};

cv::Matx23d Levelling(double skew, const cv::Size& from, cv::Size* to) {
  const double c = std::abs(std::cos(skew));
  const double s = std::abs(std::sin(skew));
  *to =
      cv::Size(cvCeil(from.width * c + from.height * s), cvCeil(from.width * s + from.height * c));
  const double cosine = std::cos(skew);
  const double sine = std::sin(skew);
  const double cx = (from.width - 1) / 2.0;
  const double cy = (from.height - 1) / 2.0;
  // Counter-clockwise as seen by `skew` in a y-down frame; undo it.
  return {cosine, -sine,  (to->width - 1) / 2.0 - cosine * cx + sine * cy,
          sine,   cosine, (to->height - 1) / 2.0 - sine * cx - cosine * cy};
}

/// A frame's rule: hollow, and around at least three other components.
bool Encloses(const Component& c, const std::vector<Component>& all) {
  if (c.area > 0.35 * c.box.area()) return false;
  int inside = 0;
  for (const auto& other : all) {
    if (other.label == c.label) continue;
    const cv::Rect common = other.box & c.box;
    if (common.area() == other.box.area() && other.box.height > 0.15 * c.box.height) ++inside;
  }
  return inside >= 3;
}

/// Finds the frame's rule and takes it away, before anything is taken for a letter.
void TakeRuleAway(outline::FrameKind kind, UprightMask& upright) {
  upright.rule = FindRule(upright.mask, kind);
  if (!upright.rule) return;
  const double margin = std::max(1.5, 0.25 * upright.rule->frame.line_weight);
  upright.rule_pixels = RulePixels(upright.rule->frame, margin, upright.mask.size()) & upright.mask;
  upright.mask.setTo(0, upright.rule_pixels);
}

UprightMask MakeUpright(const cv::Mat& mask, outline::FrameKind frame) {
  UprightMask out;
  out.skew_rad = EstimateSkew(mask, 20 * CV_PI / 180);
  cv::Size size;
  out.upright_from_map = Levelling(out.skew_rad, mask.size(), &size);
  cv::warpAffine(mask, out.mask, out.upright_from_map, size, cv::INTER_LINEAR);
  out.mask = out.mask > 127;
  TakeRuleAway(frame, out);
  ComponentOptions options;
  options.min_area = std::max(8.0, 2e-5 * static_cast<double>(mask.total()));
  const auto all = FindComponents(out.mask, options, &out.labels);
  for (const auto& c : all) {
    if (Encloses(c, all)) {
      out.frame.push_back(c);
    } else {
      out.components.push_back(c);
    }
  }
  return out;
}

/// One candidate for a line of text: its components cut out, slant removed.
struct Band {
  int top = 0;
  int bottom = 0;
  double slant = 0;
  cv::Mat row;           ///< Sheared mask of the band's components.
  cv::Mat labels;        ///< Component labels, sheared alike.
  int shear_margin = 0;  ///< Columns added on the left.
};

int ShearShift(const Band& band, int y) {
  return cvRound(band.slant * (y - (band.bottom - band.top))) + band.shear_margin;
}

std::vector<std::pair<int, int>> RowRuns(const UprightMask& upright, double share) {
  std::vector<double> ink(static_cast<std::size_t>(upright.mask.rows), 0.0);
  for (const auto& c : upright.components) {
    // Spread each component's area over its rows: enough to see the bands.
    for (int y = c.box.y; y < c.box.y + c.box.height; ++y) ink[y] += c.area / c.box.height;
  }
  const double top = *std::max_element(ink.begin(), ink.end());
  std::vector<std::pair<int, int>> runs;
  for (int y = 0; y < upright.mask.rows; ++y) {
    if (ink[y] <= share * top) continue;
    int end = y;
    while (end < upright.mask.rows && ink[end] > share * top) ++end;
    if (end - y >= 8) runs.emplace_back(y, end);
    y = end;
  }
  return runs;
}

/// Cuts the band's components out and shears them upright. Empty where there is next to nothing.
Band CutBand(const UprightMask& upright, std::pair<int, int> run) {
  Band band;
  const int height = run.second - run.first;
  std::map<int, bool> member;
  band.top = upright.mask.rows;
  band.bottom = 0;
  for (const auto& c : upright.components) {
    if (c.centroid.y() < run.first || c.centroid.y() >= run.second) continue;
    if (c.box.height > 2.2 * height) continue;
    member[c.label] = true;
    if (c.box.height < 0.4 * height) continue;
    band.top = std::min(band.top, c.box.y);
    band.bottom = std::max(band.bottom, c.box.y + c.box.height);
  }
  if (member.empty() || band.bottom - band.top < 8) return {};
  const cv::Mat labels = upright.labels.rowRange(band.top, band.bottom);
  cv::Mat plain = cv::Mat::zeros(labels.size(), CV_8U);
  for (int y = 0; y < labels.rows; ++y) {
    for (int x = 0; x < labels.cols; ++x) {
      const int label = labels.at<int>(y, x);
      if (label != 0 && member.contains(label)) plain.at<unsigned char>(y, x) = 255;
    }
  }
  band.slant = EstimateSlant(plain, 0.4);
  band.shear_margin = cvCeil(std::abs(band.slant) * plain.rows) + 1;
  const int width = plain.cols + 2 * band.shear_margin;
  band.row = cv::Mat::zeros(plain.rows, width, CV_8U);
  band.labels = cv::Mat::zeros(plain.rows, width, CV_32S);
  for (int y = 0; y < plain.rows; ++y) {
    const int shift = ShearShift(band, y);
    const cv::Rect to(shift, y, plain.cols, 1);
    plain.row(y).copyTo(band.row(to));
    labels.row(y).copyTo(band.labels(to), plain.row(y));
  }
  return band;
}

std::vector<Band> FindBands(const UprightMask& upright) {
  std::vector<std::pair<int, int>> runs;
  for (const double share : {0.01, 0.06, 0.15, 0.3}) {
    for (const auto& run : RowRuns(upright, share)) {
      const bool known = std::any_of(runs.begin(), runs.end(), [&](const auto& other) {
        return std::abs(other.first - run.first) + std::abs(other.second - run.second) < 4;
      });
      if (!known) runs.push_back(run);
    }
  }
  std::vector<Band> bands;
  for (const auto& run : runs) {
    Band band = CutBand(upright, run);
    if (!band.row.empty()) bands.push_back(std::move(band));
  }
  std::stable_sort(bands.begin(), bands.end(), [](const Band& a, const Band& b) {
    return a.top + a.bottom < b.top + b.bottom;
  });
  return bands;
}

/// The cheapest order-keeping assignment of lines to bands; -1 where none exists.
std::vector<int> AssignBands(const std::vector<std::vector<RowCuts>>& cuts,
                             const std::vector<Band>& bands, double* mean_cost) {
  const int lines = static_cast<int>(cuts.size());
  const int count = static_cast<int>(bands.size());
  const double infinity = std::numeric_limits<double>::infinity();
  std::vector<std::vector<double>> best(lines, std::vector<double>(count, infinity));
  std::vector<std::vector<int>> from(lines, std::vector<int>(count, -1));
  for (int l = 0; l < lines; ++l) {
    for (int b = 0; b < count; ++b) {
      if (l == 0) {
        best[l][b] = cuts[l][b].cost;
        continue;
      }
      for (int before = 0; before < b; ++before) {
        // Bands of one stamp may touch, not lie over each other.
        const int overlap = bands[before].bottom - bands[b].top;
        if (overlap > 0.35 * std::min(bands[b].row.rows, bands[before].row.rows)) continue;
        const double cost = best[l - 1][before] + cuts[l][b].cost;
        if (cost < best[l][b]) {
          best[l][b] = cost;
          from[l][b] = before;
        }
      }
    }
  }
  int band = -1;
  double cost = infinity;
  for (int b = 0; b < count; ++b) {
    if (best[lines - 1][b] < cost) {
      cost = best[lines - 1][b];
      band = b;
    }
  }
  *mean_cost = cost / lines;
  if (band < 0) return {};
  std::vector<int> chosen(lines);
  for (int l = lines - 1; l >= 0; --l) {
    chosen[l] = band;
    band = from[l][band];
  }
  return chosen;
}

/// Gives the band's pixels to the characters: whole components where one cut holds most of them.
void LabelElements(const Band& band, const RowCuts& cuts, int first_element, cv::Mat& element_of) {
  const int n = static_cast<int>(cuts.cuts.size());
  std::vector<int> cut_of(static_cast<std::size_t>(band.row.cols), -1);
  for (int k = 0; k < n; ++k) {
    for (int x = cuts.cuts[k].left; x < cuts.cuts[k].right; ++x) cut_of[x] = k;
  }
  std::map<int, std::vector<int>> votes;
  for (int y = 0; y < band.row.rows; ++y) {
    for (int x = 0; x < band.row.cols; ++x) {
      const int label = band.labels.at<int>(y, x);
      if (label == 0) continue;
      auto& counts = votes.try_emplace(label, n + 1, 0).first->second;
      ++counts[cut_of[x] < 0 ? n : cut_of[x]];
    }
  }
  std::vector<int> cut_total(static_cast<std::size_t>(n), 0);
  for (const auto& [label, counts] : votes) {
    for (int k = 0; k < n; ++k) cut_total[k] += counts[k];
  }
  std::map<int, int> whole;
  for (const auto& [label, counts] : votes) {
    int total = 0;
    for (const int c : counts) total += c;
    const auto most = std::max_element(counts.begin(), counts.end());
    if (*most < 0.85 * total) continue;
    // A small sign that touches a large letter must not be swallowed by it.
    bool swallows = false;
    for (int k = 0; k < n; ++k) {
      swallows |= k != most - counts.begin() && counts[k] > 0 && counts[k] > 0.6 * cut_total[k];
    }
    if (!swallows) whole[label] = static_cast<int>(most - counts.begin());
  }
  for (int y = 0; y < band.row.rows; ++y) {
    const int shift = ShearShift(band, y);
    for (int x = 0; x < band.row.cols; ++x) {
      const int label = band.labels.at<int>(y, x);
      if (label == 0) continue;
      const auto it = whole.find(label);
      const int k = it != whole.end() ? it->second : cut_of[x];
      if (k < 0 || k >= n) continue;
      element_of.at<short>(band.top + y, x - shift) = static_cast<short>(first_element + k + 1);
    }
  }
}

void AddLine(const TextSpec& spec, int line_idx, const Band& band, const RowCuts& cuts,
             Reading& reading) {
  const int first = static_cast<int>(reading.elements.size());
  const bool has_mark = line_idx == 0 && !spec.mark.empty();
  LabelElements(band, cuts, first, reading.element_of);
  for (std::size_t k = 0; k < cuts.cuts.size(); ++k) {
    const RowCut& cut = cuts.cuts[k];
    ReadElement e;
    e.line_idx = line_idx;
    e.is_mark = has_mark && k + 1 == cuts.cuts.size();
    e.id = e.is_mark ? "mark" : fmt::format("{}.{}", spec.lines[line_idx].id, cut.index);
    e.character = cut.character;
    reading.elements.push_back(e);
  }
  reading.baseline_px.push_back(band.top + cuts.baseline);
  reading.height_px.push_back(cuts.cap_height);
}

void FillBoxes(Reading& reading) {
  std::vector<cv::Rect> boxes(reading.elements.size());
  for (int y = 0; y < reading.element_of.rows; ++y) {
    const short* row = reading.element_of.ptr<short>(y);
    for (int x = 0; x < reading.element_of.cols; ++x) {
      if (row[x] > 0) boxes[row[x] - 1] |= cv::Rect(x, y, 1, 1);
    }
  }
  for (std::size_t i = 0; i < boxes.size(); ++i) reading.elements[i].box = boxes[i];
}

/// The mark is read with the wordmark but listed last, as in a lettering.
void PutMarkLast(Reading& reading) {
  const auto it = std::find_if(reading.elements.begin(), reading.elements.end(),
                               [](const ReadElement& e) { return e.is_mark; });
  if (it == reading.elements.end() || it + 1 == reading.elements.end()) return;
  const int from = static_cast<int>(it - reading.elements.begin()) + 1;
  const int count = static_cast<int>(reading.elements.size());
  std::rotate(it, it + 1, reading.elements.end());
  for (int y = 0; y < reading.element_of.rows; ++y) {
    short* row = reading.element_of.ptr<short>(y);
    for (int x = 0; x < reading.element_of.cols; ++x) {
      if (row[x] == from) {
        row[x] = static_cast<short>(count);
      } else if (row[x] > from) {
        --row[x];
      }
    }
  }
}

}  // namespace

Result<Reading> ReadText(const separate::ContrastMap& map, const TextSpec& spec) {
  DEBOSSIER_ASSERT(!spec.lines.empty());
  const cv::Mat mask = map.contrast > map.threshold;
  UprightMask upright = MakeUpright(mask, spec.frame);
  if (upright.components.size() < 2) {
    return Refuse(ErrorCode::kNoStamp, "layout", "", "nothing in the photo looks like lettering",
                  "crop closer to the stamp, or photograph it again in softer light");
  }
  const auto bands = FindBands(upright);
  std::vector<std::vector<RowCuts>> cuts(spec.lines.size());
  for (std::size_t l = 0; l < spec.lines.size(); ++l) {
    for (const auto& band : bands) {
      cuts[l].push_back(CutRow(band.row, spec.lines[l].text, l == 0 ? spec.mark : std::string()));
    }
  }
  Reading reading;
  const auto chosen = AssignBands(cuts, bands, &reading.cost);
  if (chosen.empty() || reading.cost > kPlausibleCost) {
    return Refuse(
        ErrorCode::kLetteringNotFound, "layout", "",
        fmt::format("the text \"{}\" does not fit what is stamped there", spec.lines.front().text),
        "check the text line by line as stamped, crop to the stamp alone, and turn the "
        "photo so that the lettering stands upright");
  }
  reading.skew_rad = upright.skew_rad;
  reading.upright_from_map = upright.upright_from_map;
  reading.element_of = cv::Mat::zeros(upright.mask.size(), CV_16S);
  for (std::size_t l = 0; l < spec.lines.size(); ++l) {
    AddLine(spec, static_cast<int>(l), bands[chosen[l]], cuts[l][chosen[l]], reading);
  }
  for (const auto& c : upright.frame) {
    reading.frame_box |= c.box;
    reading.element_of.setTo(-1, upright.labels == c.label);
  }
  if (upright.rule) {
    const outline::Frame& frame = upright.rule->frame;
    const Point2 half = frame.radius + Point2::Constant(0.5 * frame.line_weight);
    const Point2 corner = frame.centre - half;
    reading.frame_box = cv::Rect(cvRound(corner.x()), cvRound(corner.y()), cvRound(2 * half.x()),
                                 cvRound(2 * half.y()));
    reading.element_of.setTo(-1, upright.rule_pixels);
  }
  PutMarkLast(reading);
  FillBoxes(reading);
  return reading;
}

}  // namespace debossier::reading
