#include "trace/cut_again.h"

#include <fmt/format.h>

#include <cmath>
#include <map>
#include <opencv2/imgproc.hpp>

#include "fit/draw_lettering.h"
#include "fit/line_band.h"
#include "outline/letter_class.h"
#include "trace/check_letters.h"

namespace debossier::trace {

namespace {

/// Share of the line's foil that lies further than `kReach` from every letter's box: on the line
/// and up to a letter's width beside it.
double LeftOver(const fit::PlacedBand& placed, const std::vector<outline::Outline>& letters) {
  constexpr double kReach = 0.12;  // of the line's cap height
  constexpr double kBeside = 1.2;
  const double px = placed.band.px_per_cap;
  const double scale = placed.stamp_from_band.linear(0, 0);
  outline::Box line;
  std::vector<cv::Rect> boxes;
  for (const auto& letter : letters) {
    if (letter.empty()) continue;
    const outline::Box box = outline::Bounds(letter);
    const auto to_band = [&](const outline::Point& p) {
      const outline::Point d = p - placed.stamp_from_band.offset;
      return outline::Point(d.x() / scale, -d.y() / scale);
    };
    outline::Box seen;
    seen.Add(to_band(box.min));
    seen.Add(to_band(box.max));
    line.Add(seen);
    const double reach = kReach * px;
    boxes.emplace_back(cvFloor(seen.min.x() - reach), cvFloor(seen.min.y() - reach),
                       cvCeil(seen.width() + 2 * reach), cvCeil(seen.height() + 2 * reach));
  }
  const cv::Mat& coverage = placed.band.coverage;
  const cv::Rect about = cv::Rect(cvFloor(line.min.x() - kBeside * px), cvFloor(line.min.y()),
                                  cvCeil(line.width() + 2 * kBeside * px), cvCeil(line.height())) &
                         cv::Rect(cv::Point(0, 0), coverage.size());
  if (line.empty() || about.empty()) return 1;
  cv::Mat foil = coverage(about) > 0.5f;
  const int all = cv::countNonZero(foil);
  for (const cv::Rect& box : boxes) {
    const cv::Rect own = (box & about) - about.tl();
    if (!own.empty()) foil(own).setTo(0);
  }
  return all > 0 ? static_cast<double>(cv::countNonZero(foil)) / all : 1;
}

/// Puts the boxes of a general face's letters in the places of the line's own; false where they do
/// not fit.
bool ReplaceLine(const cv::Mat& coverage, const fit::Placement& map, int line_idx,
                 outline::Lettering& lettering) {
  constexpr double kLeastCorrelation = 0.5;
  constexpr double kLeastWord = 0.6;
  constexpr double kMostLeftOver = 0.04;
  fit::PlaceReport placed;
  placed.coverage.alpha = coverage;
  placed.map_from_stamp = map;
  fit::PlacedBand band = fit::BandAround(lettering, line_idx, lettering.frame, placed);
  band.band.own = {};  // the letters that are in doubt
  const std::string& text = lettering.lines[static_cast<std::size_t>(line_idx)].text;
  const reading::StringFit fit = reading::FitStrings(band.band, {text}).front();
  if (fit.correlation < kLeastCorrelation || fit.least_word < kLeastWord) return false;
  const auto letters = fit::LettersAsRead(band, fit);
  if (LeftOver(band, letters) > kMostLeftOver) return false;
  for (auto& e : lettering.elements) {
    if (e.line_idx != line_idx || e.kind != outline::ElementKind::kLetter) continue;
    const std::size_t index = std::stoul(e.id.substr(e.id.rfind('.') + 1));
    if (index >= letters.size() || letters[index].empty()) continue;
    // The letter's box, not its shape: what is stamped may be another letter.
    e.outline.contours = {outline::Rectangle(outline::Bounds(letters[index]))};
  }
  return true;
}

}  // namespace

std::set<int> PutBoxesToCutBy(const cv::Mat& coverage, const fit::Placement& map,
                              outline::Lettering& lettering) {
  constexpr std::size_t kMostCharacters = 80;  // the time grows with the square of the length
  std::set<int> doubtful;
  for (const LetterCheck& check : CheckLetters(lettering)) {
    if (IsDoubtful(check)) doubtful.insert(check.line_idx);
  }
  std::set<int> lines;
  for (const int line : doubtful) {
    const auto& text = lettering.lines[static_cast<std::size_t>(line)].text;
    if (outline::Characters(text).size() > kMostCharacters) continue;
    if (ReplaceLine(coverage, map, line, lettering)) lines.insert(line);
  }
  return lines;
}

namespace {

constexpr double kAsHigh = 0.12;  // of the line's height

/// A letter was taken for the circled mark: as high as the wordmark's letters, on their baseline,
/// and no circle.
bool IsLetterForMark(const outline::Element& mark, const outline::Line& wordmark) {
  constexpr double kCircle = 0.785;  // of its box
  constexpr double kApart = 0.06;    // the hull of an E fills it, that of an A or L half of it
  const outline::Box box = outline::Bounds(mark.outline);
  if (mark.character == "™" || box.empty()) return false;
  if (std::abs(box.height() - wordmark.cap_height) > kAsHigh ||
      std::abs(box.min.y() - wordmark.baseline) > kAsHigh) {
    return false;
  }
  std::vector<cv::Point2f> points;
  for (const auto& polygon : outline::Flatten(mark.outline, 0.01)) {
    for (const auto& p : polygon) {
      points.emplace_back(static_cast<float>(p.x()), static_cast<float>(p.y()));
    }
  }
  std::vector<cv::Point2f> hull;
  cv::convexHull(points, hull);
  return std::abs(cv::contourArea(hull) / (box.width() * box.height()) - kCircle) > kApart;
}

/// A line's letters in the picture.
struct PlacedLine {
  cv::Rect2d letters;
  double foot = 0;  ///< Row of the baseline.
  double px = 0;    ///< Height of its capitals.
};

/// Whether a part of the picture is as high as the line's letters and stands next to them; -1
/// before, 1 after, 0 neither.
int SideBeside(const PlacedLine& line, const cv::Rect2d& part) {
  constexpr double kAsNear = 0.9;  // of the line's height, from its last letter
  const double slack = 0.02 * line.px;
  if (std::abs(part.height - line.px) > kAsHigh * line.px ||
      std::abs(part.br().y - line.foot) > kAsHigh * line.px || part.width > 1.5 * line.px) {
    return 0;
  }
  const double right = line.letters.br().x;
  if (part.x > right - slack && part.x < right + kAsNear * line.px) return 1;
  const double left = line.letters.x;
  return part.br().x < left + slack && part.br().x > left - kAsNear * line.px ? -1 : 0;
}

}  // namespace

std::string LetterBeside(const cv::Mat& coverage, const fit::Placement& map,
                         const outline::Lettering& lettering) {
  constexpr double kLeastArea = 0.04;  // of the line's height's square
  const auto in_words = [&](std::size_t line, bool after) {
    return fmt::format("{} \"{}\" stands what looks like another letter",
                       after ? "after" : "before", lettering.lines[line].text);
  };
  cv::Mat labels;
  cv::Mat stats;
  cv::Mat middles;
  cv::connectedComponentsWithStats(coverage > 0.5f, labels, stats, middles);
  const auto placed = [&](const outline::Outline& outline) {
    const outline::Box box = fit::PlacedBox(outline, {}, map);
    return cv::Rect2d(box.min.x(), box.min.y(), box.width(), box.height());
  };
  std::vector<outline::Outline> letters(lettering.lines.size());
  cv::Rect2d mark;
  for (const auto& e : lettering.elements) {
    if (e.kind == outline::ElementKind::kLetter) {
      outline::Append(letters[static_cast<std::size_t>(e.line_idx)], e.outline);
    } else if (IsLetterForMark(e, lettering.lines.front())) {
      return in_words(0, true);
    } else if (!e.outline.empty()) {
      mark = placed(e.outline);
    }
  }
  const outline::Frame& frame = lettering.frame;
  const cv::Rect2d rule = placed(outline::FrameOutline(frame));
  for (std::size_t l = 0; l < lettering.lines.size(); ++l) {
    const outline::Line& line = lettering.lines[l];
    PlacedLine seen;
    seen.px = map.ScaleAt({0, line.baseline}) * outline::NominalHeight(line);
    seen.foot = map.ToPhoto({0, line.baseline}).y();
    if (letters[l].empty() || !(seen.px > 0)) continue;
    seen.letters = placed(letters[l]);
    // Of a rule around the line upright pieces may be as high as its letters.
    const bool framed = frame.kind != outline::FrameKind::kNone &&
                        (frame.line_idx < 0 || frame.line_idx == static_cast<int>(l));
    const double room = frame.line_weight * map.ScaleAt({0, line.baseline}) + 0.05 * seen.px;
    for (int k = 1; k < stats.rows; ++k) {
      const cv::Rect2d own(stats.at<int>(k, cv::CC_STAT_LEFT), stats.at<int>(k, cv::CC_STAT_TOP),
                           stats.at<int>(k, cv::CC_STAT_WIDTH),
                           stats.at<int>(k, cv::CC_STAT_HEIGHT));
      const int side = SideBeside(seen, own);
      const bool of_rule = framed && (own.x < rule.x + room || own.br().x > rule.br().x - room);
      if (side == 0 || of_rule || (own & mark).area() > 0.3 * own.area()) continue;
      if (stats.at<int>(k, cv::CC_STAT_AREA) < kLeastArea * seen.px * seen.px) continue;
      return in_words(l, side > 0);
    }
  }
  return {};
}

std::set<int> BetterCut(const outline::Lettering& before, const outline::Lettering& after,
                        const std::set<int>& lines) {
  constexpr double kSame = 0.05;
  constexpr double kLeastLikeness = 0.82;  // the wrong texts that were looked at reached .74
  std::map<std::string, LetterCheck> was;
  for (auto& check : CheckLetters(before)) was[check.id] = check;
  struct Changes {
    int better = 0;
    int good = 0;  ///< Of these: clearly themselves now.
    bool worse = false;
  };
  std::map<int, Changes> changes;
  for (const LetterCheck& is : CheckLetters(after)) {
    const auto at = was.find(is.id);
    if (!lines.contains(is.line_idx) || at == was.end()) continue;
    const double gained = is.likeness - at->second.likeness;
    if (std::abs(gained) < kSame) continue;
    const bool good = is.likeness >= kLeastLikeness && !IsDoubtful(is);
    Changes& line = changes[is.line_idx];
    line.better += gained > 0;
    line.good += gained > 0 && good;
    line.worse |= gained < 0 && !good;
  }
  std::set<int> better;
  for (const auto& [line, change] : changes) {
    if (!change.worse && 2 * change.good > change.better) better.insert(line);
  }
  return better;
}

}  // namespace debossier::trace
