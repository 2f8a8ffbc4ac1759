#include "trace/consensus.h"

#include <fmt/format.h>

#include <Eigen/Geometry>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include "base/unicode.h"
#include "fit/refine_placement.h"
#include "outline/letter_class.h"
#include "trace/cut_again.h"

namespace debossier::trace {

namespace {

/// Rise over run of the wordmark's letters: the median slope between any two flat bases, or flat
/// tops (Theil 1950, Sen 1968).
double SlopeOfWordmark(const outline::Lettering& lettering) {
  std::vector<outline::Point> bases;
  std::vector<outline::Point> tops;
  for (const auto& e : lettering.elements) {
    if (e.line_idx != 0 || e.kind != outline::ElementKind::kLetter) continue;
    const outline::Box box = outline::Bounds(e.outline);
    if (box.empty()) continue;
    if (outline::HasFlatBase(e.character)) bases.emplace_back(box.centre().x(), box.min.y());
    if (outline::HasFlatTop(e.character) && IsCapital(e.character)) {
      tops.emplace_back(box.centre().x(), box.max.y());
    }
  }
  std::vector<double> slopes;
  for (const auto& points : {bases, tops}) {
    for (std::size_t i = 0; i < points.size(); ++i) {
      for (std::size_t j = i + 1; j < points.size(); ++j) {
        const outline::Point d = points[j] - points[i];
        constexpr double kFarEnough = 1;  // cap heights
        if (d.x() > kFarEnough) slopes.push_back(d.y() / d.x());
      }
    }
  }
  if (slopes.size() < 3) return 0;
  std::sort(slopes.begin(), slopes.end());
  const std::size_t middle = slopes.size() / 2;
  return slopes.size() % 2 == 1 ? slopes[middle] : 0.5 * (slopes[middle - 1] + slopes[middle]);
}

/// The outline with its points mapped by `h`; close to the identity, so that control points may be
/// mapped like points.
outline::Outline Warped(outline::Outline outline, const Eigen::Matrix3d& h) {
  const auto map = [&h](const outline::Point& p) {
    return outline::Point((h * p.homogeneous()).hnormalized());
  };
  for (auto& contour : outline.contours) {
    contour.start = map(contour.start);
    for (auto& segment : contour.segments) {
      segment.control1 = map(segment.control1);
      segment.control2 = map(segment.control2);
      segment.end = map(segment.end);
    }
  }
  return outline;
}

/// Takes the photos' mean aspect, shear and perspective as upright, and the wordmark's line as
/// level: changes the stamp frame.
void Straighten(std::vector<fit::PlaceReport>& items, outline::Lettering& lettering) {
  const outline::Point centre = outline::Bounds(lettering).centre();
  double aspect = 0;
  double shear = 0;
  Eigen::Vector2d perspective = Eigen::Vector2d::Zero();
  const double count = static_cast<double>(items.size());
  for (const auto& item : items) {
    const auto shape = fit::ShapeOf(item.photo_from_stamp, centre);
    aspect += shape.log_aspect / count;
    shear += shape.shear / count;
    perspective += shape.perspective / count;
  }
  // About the centre: the mean perspective divided out, x stretched by the mean aspect, sheared
  // axes in the mean photo upright.
  Eigen::Matrix3d to_centre = Eigen::Matrix3d::Identity();
  to_centre.topRightCorner<2, 1>() = -centre;
  Eigen::Matrix3d divide = Eigen::Matrix3d::Identity();
  divide.bottomLeftCorner<1, 2>() = perspective.transpose();
  Eigen::Matrix3d stretch = Eigen::Matrix3d::Identity();
  stretch(0, 0) = std::exp(aspect);
  stretch(0, 1) = shear;
  Eigen::Matrix3d new_from_old = to_centre.inverse() * stretch * divide * to_centre;
  for (auto& e : lettering.elements) e.outline = Warped(std::move(e.outline), new_from_old);
  const double angle = -std::atan(SlopeOfWordmark(lettering));
  outline::Affine level;
  level.linear << std::cos(angle), -std::sin(angle), std::sin(angle), std::cos(angle);
  level.offset = centre - level.linear * centre;
  for (auto& e : lettering.elements) e.outline = outline::Transformed(e.outline, level);
  const outline::Affine normal = Normalise(lettering);
  const auto as_matrix = [](const outline::Affine& map) {
    Eigen::Matrix3d m = Eigen::Matrix3d::Identity();
    m.topLeftCorner<2, 2>() = map.linear;
    m.topRightCorner<2, 1>() = map.offset;
    return m;
  };
  const Eigen::Matrix3d back = (as_matrix(normal) * as_matrix(level) * new_from_old).inverse();
  for (auto& item : items) {
    for (fit::Placement* placement : {&item.photo_from_stamp, &item.map_from_stamp}) {
      placement->photo_from_stamp = placement->photo_from_stamp * back;
      placement->photo_from_stamp /= placement->photo_from_stamp(2, 2);
    }
  }
}

/// Levels the rule of the frame on the items' mean: shift, axes and weight.
void RefineFrame(const std::vector<fit::PlaceReport>& items, outline::Lettering& lettering) {
  outline::Frame& frame = lettering.frame;
  if (frame.kind == outline::FrameKind::kNone) return;
  const outline::Outline rule = outline::FrameOutline(frame);
  fit::ElementOptions options;
  options.step = 0.05;
  options.gain_sd = 0.05;
  fit::ElementVector sum = fit::ElementVector::Zero();
  double count = 0;
  for (const auto& item : items) {
    const fit::EdgeReader reader(item.coverage.alpha, item.map_from_stamp);
    const auto fit =
        fit::FitElement(reader, {rule, options.step}, fit::ElementVector::Zero(), options);
    if (!fit.found) continue;
    sum += fit.value;
    count += 1;
  }
  if (count == 0) return;
  sum /= count;
  frame.centre += outline::Point(sum[fit::kShiftX], sum[fit::kShiftY]);
  frame.radius.x() *= std::exp(sum[fit::kLogScaleX]);
  frame.radius.y() *= std::exp(sum[fit::kLogScaleY]);
  frame.line_weight = std::max(0.005, frame.line_weight + 2 * sum[fit::kOwnGain]);
}

/// Which photo is the odd one where some do not fit the outlines that came from `seed_name`: those,
/// where most fit; the one that the outlines came from, where most do not.
Unexpected OddOne(const std::vector<Error>& misfits, std::size_t photos,
                  const std::string& seed_name) {
  Error error = misfits.front();
  error.code = ErrorCode::kItemsDoNotAgree;
  const std::size_t fit = photos - misfits.size();
  if (misfits.size() > fit) {
    error.where = seed_name;
    error.message = fmt::format(
        "does not show the lettering of the other photos: {} of {} do not "
        "fit its outlines",
        misfits.size(), photos - 1);
  } else {
    error.message = "does not show the lettering of \"" + seed_name + "\": " + error.message;
    if (misfits.size() == fit) error.message += "; either may be the one that does not belong";
  }
  error.hint =
      "check that all photos show one lettering; crop to the stamp; leave this photo out if no "
      "better one can be taken";
  return Unexpected(std::move(error));
}

/// Places every photo, from where it is known to lie or else by a search. Refuses as
/// BuildConsensus; `seed_name`: the photo that the outlines came from.
Result<std::vector<fit::PlaceReport>> RegisterAll(
    const std::vector<NamedPhoto>& photos, const outline::Lettering& lettering,
    const std::vector<std::optional<fit::Placement>>& known, const std::string& seed_name,
    const fit::PlaceOptions& options) {
  std::vector<fit::PlaceReport> items;
  std::vector<Error> misfits;
  for (std::size_t i = 0; i < photos.size(); ++i) {
    auto placed = known[i] ? fit::RefinePlacement(photos[i].bgr, lettering, *known[i], options)
                           : fit::PlaceLettering(photos[i].bgr, lettering, options);
    if (!placed) {
      Error error = placed.error();
      error.where = photos[i].name;
      if (photos.size() == 1 || error.code != ErrorCode::kLetteringNotFound) {
        return Unexpected(std::move(error));
      }
      misfits.push_back(std::move(error));
      continue;
    }
    items.push_back(std::move(*placed));
  }
  if (!misfits.empty()) return OddOne(misfits, photos.size(), seed_name);
  return items;
}

/// Leads to the mean's pixels.
fit::Placement InGrid(const MeanPicture& picture) {
  fit::Placement map;
  map.photo_from_stamp = picture.grid.grid_from_stamp;
  return map;
}

/// Traces the mean, and once more where letters were cut in the wrong places.
void TraceMean(const MeanPicture& picture, const RetraceOptions& options,
               outline::Lettering& lettering) {
  Retrace(picture, options, lettering);
  outline::Lettering again = lettering;
  const std::set<int> lines = PutBoxesToCutBy(picture.mean, InGrid(picture), again);
  if (lines.empty()) return;
  Retrace(picture, options, again);
  const std::set<int> better = BetterCut(lettering, again, lines);
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    if (better.contains(again.elements[i].line_idx)) lettering.elements[i] = again.elements[i];
  }
}

/// New outlines at the places that the photos were registered to.
void MoveTo(const Seed& again, const MeanPicture& picture,
            std::vector<std::optional<fit::Placement>>& known) {
  const Eigen::Matrix3d old_from_new =
      picture.grid.grid_from_stamp.inverse() * again.photo_from_stamp.photo_from_stamp;
  for (auto& placement : known) {
    placement->photo_from_stamp = placement->photo_from_stamp * old_from_new;
    placement->stretch = {};
  }
}

void WarnOfUntraced(const Seed& seed, const std::string& seed_name, Consensus& out) {
  for (const auto& element : seed.untraced) {
    const auto& line = out.lettering.lines[static_cast<std::size_t>(element.line_idx)];
    out.warnings.push_back(
        {"trace", seed_name,
         fmt::format(
             "the \"{}\" of \"{}\" ({}) cannot be separated from the leather and is left out of "
             "the set; a clearer photo would bring it in",
             element.character, line.text, element.id)});
  }
}

}  // namespace

Result<Consensus> BuildConsensus(const std::vector<NamedPhoto>& photos,
                                 const reading::TextSpec& text, const ConsensusOptions& options) {
  DEBOSSIER_ASSERT(!photos.empty());
  Consensus out;
  std::size_t seed_idx = 0;
  auto seed = BestSeed(photos, text, &seed_idx);
  if (!seed) return PassOn(seed);
  out.lettering = seed->lettering;
  const std::string seed_name = photos[seed_idx].name;
  std::vector<std::optional<fit::Placement>> known(photos.size());
  known[seed_idx] = seed->photo_from_stamp;

  // The photos show one die: their lines have one size, and what differs is perspective.
  fit::PlaceOptions one_die = options.place;
  one_die.whole.lines_move = false;
  bool may_read_again = photos.size() > 1;
  for (int traced = 0; traced < options.rounds;) {
    auto items = RegisterAll(photos, out.lettering, known, seed_name, one_die);
    if (!items) return PassOn(items);
    out.items = std::move(*items);
    for (std::size_t i = 0; i < photos.size(); ++i) known[i] = out.items[i].photo_from_stamp;
    const MeanPicture picture = MeanOf(out.items, out.lettering, options.retrace);
    if (may_read_again) {
      may_read_again = false;
      if (auto again = ReadAgain(picture.mean, text, *seed)) {
        MoveTo(*again, picture, known);
        *seed = std::move(*again);
        out.lettering = seed->lettering;
        continue;
      }
    }
    TraceMean(picture, options.retrace, out.lettering);
    // An upright piece of a rule that was not found may be as high as a letter.
    const bool rule_known =
        text.frame == outline::FrameKind::kNone || out.lettering.frame.kind == text.frame;
    if (rule_known) out.beside = LetterBeside(picture.mean, InGrid(picture), out.lettering);
    RefineFrame(out.items, out.lettering);
    out.mean = picture.mean;
    out.grid_from_stamp = picture.grid.grid_from_stamp;
    Straighten(out.items, out.lettering);
    for (std::size_t i = 0; i < photos.size(); ++i) known[i] = out.items[i].photo_from_stamp;
    ++traced;
  }
  WarnOfUntraced(*seed, seed_name, out);
  // The items' fits against the final outlines.
  for (std::size_t i = 0; i < photos.size(); ++i) {
    auto placed = fit::RefinePlacement(photos[i].bgr, out.lettering, *known[i], options.place);
    if (placed) out.items[i] = std::move(*placed);
  }
  return out;
}

}  // namespace debossier::trace
