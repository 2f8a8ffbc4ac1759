#include "fit/render_reference.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

#include "base/quantile.h"
#include "fit/draw_lettering.h"
#include "fit/edge_blur.h"
#include "outline/outline.h"
#include "separate/tone.h"

namespace debossier::fit {

namespace {

/// Where the drawing has foil or its blur reaches, within a map of `size`.
cv::Rect Drawn(const cv::Size& size, const Placement& placement,
               const outline::Lettering& lettering, const std::vector<ElementFit>& elements) {
  constexpr double kMargin = 0.3;  // cap heights
  outline::Box box = PlacedBox(outline::FrameOutline(lettering.frame), {}, placement);
  for (std::size_t i = 0; i < lettering.elements.size(); ++i) {
    const outline::Affine move = elements[i].found ? MoveOf(elements[i]) : outline::Affine{};
    box.Add(PlacedBox(lettering.elements[i].outline, move, placement));
  }
  return RectAround(box, kMargin * placement.ScaleAt(outline::Bounds(lettering).centre()), size);
}

/// What the photo's separation makes of a drawn coverage under a blur; all within one part of the
/// map, beyond which there is no foil.
class Separation {
 public:
  Separation(const separate::Coverage& coverage, const Labels& labels, const cv::Rect& part,
             double cap_px)
      : coverage_(coverage),
        foil_(labels.foil(part)),
        ground_(labels.ground(part)),
        cap_px_(cap_px) {}

  /// How the camera codes the light of this foil on this ground.
  separate::Tone ToneUnder(const cv::Mat& light) const {
    // The mean over the foil's labels holds rims and hairlines that are not all foil.
    const double full = std::max(0.5, cv::mean(light, foil_)[0]);
    cv::Vec3f foil;
    for (int c = 0; c < 3; ++c) {
      const double ground = separate::LightOfCode(coverage_.ground_colour[c]);
      const double mean = separate::LightOfCode(coverage_.foil_colour[c]);
      foil[c] = static_cast<float>(separate::CodeOfLight(ground + (mean - ground) / full));
    }
    return separate::Tone(foil, coverage_.ground_colour, coverage_.direction);
  }

  /// The part's map from a drawing of it.
  cv::Mat Of(const cv::Mat& drawn, double sigma_px) const {
    cv::Mat light;
    cv::GaussianBlur(drawn, light, cv::Size(), sigma_px, sigma_px, cv::BORDER_REPLICATE);
    const separate::Tone tone = ToneUnder(light);
    cv::Mat coded(light.size(), CV_8U, cv::Scalar(kDark));
    for (int y = 0; y < light.rows; ++y) {
      const auto* from = light.ptr<float>(y);
      auto* to = coded.ptr<unsigned char>(y);
      for (int x = 0; x < light.cols; ++x) {
        if (from[x] > 0) to[x] = cv::saturate_cast<unsigned char>(kDark + kStep * tone(from[x]));
      }
    }
    const double smoothing = coverage_.grid.smoothing_px;
    if (smoothing > 0) cv::GaussianBlur(coded, coded, cv::Size(), smoothing);
    return separate::GuidedCoverageOfDrawing(coded, foil_, ground_, cap_px_);
  }

 private:
  static constexpr float kDark = 5;    // code of the ground
  static constexpr float kStep = 240;  // from it to the foil's
  const separate::Coverage& coverage_;
  cv::Mat foil_;
  cv::Mat ground_;
  double cap_px_;
};

/// Median displacement of the rendered edges from where the fits have the photo's.
double MedianReading(const EdgeReader& reader, const std::vector<ElementFit>& elements) {
  constexpr double kWindow = 0.12;  // cap heights
  std::vector<double> displacements;
  for (const ElementFit& element : elements) {
    if (!element.found) continue;
    for (std::size_t i = 0; i < element.edges.size(); i += 3) {
      if (element.readings[i].kind != EdgeReading::Kind::kEdge) continue;
      const ModelEdge& e = element.edges[i];
      const EdgeReading r = reader.Read(MovePoint(element, e.point), e.normal,
                                        reader.placement().gain + element.value[kOwnGain], kWindow);
      if (r.kind != EdgeReading::Kind::kEdge) continue;
      const double reference = element.reference.empty() ? 0 : element.reference.displacement[i];
      displacements.push_back(r.displacement - element.readings[i].displacement - reference);
    }
  }
  return UpperMedian(std::move(displacements));
}

}  // namespace

RenderedReference RenderReference(const separate::Coverage& coverage, const Labels& labels,
                                  const Placement& map_from_stamp,
                                  const outline::Lettering& lettering,
                                  const std::vector<ElementFit>& elements, Blurs blurs) {
  constexpr double kApart = 0.12;  // of the two blurs, each way
  constexpr double kLeastPx = 0.3;
  constexpr double kLeastStray = 0.03;  // of the blur over a stamp, relative
  RenderedReference out;
  const EdgeReader photo(coverage.alpha, map_from_stamp);
  const EdgeBlur blur = EdgeBlurAndStray(photo, elements);
  const double seen = blur.px;
  if (!(seen > 0)) return out;
  out.blur_px = seen;
  for (const ElementFit& element : elements) {
    out.values.push_back(element.found ? element.value : ElementVector(ElementVector::Zero()));
  }
  const double cap_px = map_from_stamp.ScaleAt(outline::Bounds(lettering).centre());
  out.part = Drawn(coverage.alpha.size(), map_from_stamp, lettering, elements);
  if (out.part.empty()) return {};
  out.placement = SeenFrom(out.part.tl(), map_from_stamp);
  const Separation separation(coverage, labels, out.part, cap_px);
  // A pixel's own area blurs as a twelfth of a square pixel, a bilinear sample by twice as much.
  const double known = std::pow(coverage.grid.smoothing_px, 2) +
                       std::pow(separate::CoverageOptions().smoothing_px, 2) + 0.25;
  const double sigma = std::sqrt(std::max(kLeastPx * kLeastPx, seen * seen - known));
  const cv::Mat drawn = DrawLettering(lettering, elements, out.placement, out.part.size());
  if (blurs == Blurs::kOne) {
    out.sharper = separation.Of(drawn, sigma);
    out.gain_apart = MedianReading(EdgeReader(out.sharper, out.placement), elements);
    return out;
  }
  out.sharper = separation.Of(drawn, (1 - kApart) * sigma);
  out.softer = separation.Of(drawn, (1 + kApart) * sigma);
  const EdgeReader sharper(out.sharper, out.placement);
  const EdgeReader softer(out.softer, out.placement);
  const double low = EdgeBlurPx(sharper, elements);
  const double high = EdgeBlurPx(softer, elements);
  if (!(high > low)) return {};
  out.share = std::clamp((seen - low) / (high - low), -1.5, 2.5);
  out.u_share = std::max(kLeastStray, blur.stray) * seen / (high - low);
  out.light_blur_px = (1 + kApart * (2 * out.share - 1)) * sigma;
  out.tone = separation.ToneUnder(drawn);
  const double by_sharper = MedianReading(sharper, elements);
  out.gain_apart = by_sharper + out.share * (MedianReading(softer, elements) - by_sharper);
  return out;
}

ReferenceReading ReadReference(const RenderedReference& rendered, const SampledOutline& outline,
                               const ElementVector& drawn_at, const ElementOptions& options) {
  ReferenceReading out;
  if (rendered.empty()) return out;
  ElementFit drawn;
  drawn.centre = outline.centre;
  drawn.value = drawn_at;
  const outline::Affine move = MoveOf(drawn);
  const Eigen::Matrix2d normal_map = move.linear.inverse().transpose();
  const double gain = rendered.placement.gain + drawn.value[kOwnGain];
  const auto reader_of = [&](const cv::Mat& map) {
    const EdgeReader reader(map, rendered.placement);
    return options.own_level && !map.empty()
               ? EdgeReader(map, rendered.placement, OwnLevel(reader, outline, drawn_at))
               : reader;
  };
  const EdgeReader sharper = reader_of(rendered.sharper);
  const EdgeReader softer = reader_of(rendered.softer);
  const bool one = rendered.softer.empty();
  for (const ModelEdge& edge : outline.edges) {
    const Point at = move * edge.point;
    const Point normal = (normal_map * edge.normal).normalized();
    const EdgeReading low = sharper.Read(at, normal, gain, options.window);
    const EdgeReading high = one ? low : softer.Read(at, normal, gain, options.window);
    constexpr auto kEdge = EdgeReading::Kind::kEdge;
    const bool both = low.kind == kEdge && high.kind == kEdge;
    const double apart = high.displacement - low.displacement;
    out.displacement.push_back(both ? low.displacement + rendered.share * apart : std::nan(""));
    out.by_blur.push_back(both ? rendered.u_share * apart : 0);
  }
  return out;
}

}  // namespace debossier::fit
