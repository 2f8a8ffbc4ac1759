#include "report/dossier.h"

#include <fmt/format.h>

#include <algorithm>
#include <list>
#include <set>
#include <tuple>

#include "base/files.h"
#include "base/version.h"
#include "report/dossier_pages.h"
#include "results/words.h"

namespace debossier::report {

namespace {

using compare::ItemComparison;
using compare::ItemPhoto;

Unexpected Wrong(const std::string& where, const std::string& message, const std::string& hint) {
  return Refuse(ErrorCode::kUsage, "report", where, message, hint);
}

Result<std::monostate> Check(const std::vector<DossierPhoto>& photos,
                             const DossierOptions& options) {
  if (photos.empty()) return Wrong("dossier", "has no photos", "name one or more");
  if (photos.size() > kMostDossierPhotos) {
    return Wrong("dossier", fmt::format("has {} photos", photos.size()),
                 fmt::format("give the best {} or fewer", kMostDossierPhotos));
  }
  std::set<std::tuple<std::string, std::string, int, int, int, int>> seen;
  for (const DossierPhoto& p : photos) {
    if (p.unreadable) continue;
    const cv::Rect& c = p.crop;
    if (!seen.emplace(Sha256Hex(p.bytes), p.set->id, c.x, c.y, c.width, c.height).second) {
      return Wrong(p.name, "is given twice, and would count as two photos",
                   "give each photo once, or another crop of it");
    }
  }
  compare::CompareOptions of_photo = options.examine.compare;
  if (auto checked = of_photo.Check(); !checked) return checked;
  of_photo.false_flag_rate /= static_cast<double>(photos.size());
  if (of_photo.Check()) return std::monostate{};
  return Wrong(
      "false flag rate",
      fmt::format("leaves {:.4f} % for each of {} photos, and 0.01 % is the least that can "
                  "be told",
                  100 * of_photo.false_flag_rate, photos.size()),
      "give fewer photos or a higher rate");
}

ItemPhoto Compare(const DossierPhoto& photo, const compare::CompareOptions& shared) {
  ItemPhoto out{photo.name, photo.set->id, photo.notes, std::nullopt, photo.unreadable};
  if (out.refusal) return out;
  const auto loaded = image::PhotoFromBytes(photo.bytes, photo.name);
  if (!loaded) {
    out.refusal = loaded.error();
    return out;
  }
  compare::CompareOptions options = shared;
  options.place.crop = photo.crop;
  auto comparison = compare::ComparePhoto(*loaded, *photo.set, options);
  if (comparison) {
    out.comparison = *std::move(comparison);
  } else {
    out.refusal = comparison.error();
  }
  return out;
}

std::vector<const refset::RefSet*> SetsOf(const std::vector<DossierPhoto>& photos) {
  std::vector<const refset::RefSet*> sets;
  for (const DossierPhoto& p : photos) {
    if (std::find(sets.begin(), sets.end(), p.set) == sets.end()) sets.push_back(p.set);
  }
  return sets;
}

// Unique as given; else what these photos, sets, options and program and no others give.
std::string DossierNumber(const ItemComparison& item, const DossierOptions& options) {
  const ReportFields& fields = options.examine.pdf.fields;
  if (!fields.number.empty()) return fields.number;
  std::string all = fmt::format("{}\n{}\n", kVersion, options.observations);
  for (const ItemPhoto& p : item.photos) {
    all += fmt::format("{}\n{}\n", p.name, p.notes);
    if (!p.comparison) continue;
    all += fmt::format("{}\n{}\n", p.comparison->photo.sha256, SetInWords(*p.comparison));
    for (const auto& [name, value] : p.comparison->options) {
      all += fmt::format("{}={}\n", name, value);
    }
  }
  for (const FieldName& field : FieldNames()) all += fmt::format("{}\n", fields.*(field.value));
  return Sha256Hex(all).substr(0, 12);
}

// A photo as the document holds it; its pixels are gone once its pictures are made.
struct Part {
  image::Photo photo;
  PdfOptions options;
  std::shared_ptr<const VerifiedPicture> verified;
  std::optional<PhotoImage> image;
  std::optional<Material> material;
};

}  // namespace

Result<ItemComparison> ExamineItem(const std::vector<DossierPhoto>& photos,
                                   const DossierOptions& options) {
  if (auto checked = Check(photos, options); !checked) return PassOn(checked);
  const double rate = options.examine.compare.false_flag_rate;
  compare::CompareOptions of_photo = options.examine.compare;
  of_photo.false_flag_rate = rate / static_cast<double>(photos.size());
  std::vector<ItemPhoto> compared;
  compared.reserve(photos.size());
  for (const DossierPhoto& photo : photos) compared.push_back(Compare(photo, of_photo));
  return compare::JudgeItem(std::move(compared), SetsOf(photos), rate);
}

Result<std::string> DossierPdf(const ItemComparison& item, const std::vector<DossierPhoto>& photos,
                               const DossierOptions& options) {
  const PdfOptions& pdf = options.examine.pdf;
  const Point size = PageSize(pdf.paper);
  Canvas canvas(size.x(), size.y(), pdf.font_family);
  const Rect body = BodyOf(pdf.paper);
  DossierMaterial dossier{
      item, pdf.fields, options.observations, DossierNumber(item, options), body, {}, {}};
  std::list<Part> parts;
  dossier.photos.resize(item.photos.size(), nullptr);
  for (std::size_t i = 0; i < item.photos.size(); ++i) {
    if (!item.photos[i].comparison) continue;
    const compare::Comparison& c = *item.photos[i].comparison;
    auto photo = image::PhotoFromBytes(photos[i].bytes, photos[i].name);
    if (!photo) return PassOn(photo);
    Part& part = parts.emplace_back();
    part.photo = *std::move(photo);
    part.options = pdf;
    part.options.fields.number = fmt::format("{}/{}", dossier.number, i + 1);
    if (options.examine.verified) {
      part.verified = options.examine.verified->Clearest(*photos[i].set, c.own_item);
    }
    part.image.emplace(part.photo, RegionShown(c));
    part.material.emplace(
        GatherMaterial(c, part.photo, part.verified.get(), part.options, *part.image, body));
    part.material->part = fmt::format("photo {} of {}", i + 1, item.photos.size());
    part.photo.bgr.release();
    dossier.photos[i] = &*part.material;
  }
  for (const refset::RefSet* set : SetsOf(photos)) {
    dossier.is_demonstration = dossier.is_demonstration || set->simulated;
  }
  Describe(canvas, "Item dossier" + (pdf.fields.item.empty() ? "" : ": " + pdf.fields.item),
           fmt::format("{}, over {} photos", Headline(item.finding), item.photos.size()), kVersion);
  Pages pages;
  PlanDossier(dossier, canvas, pages);
  SetFooters(FooterOf(dossier), dossier.is_demonstration, pages);
  for (std::size_t i = 0; i < dossier.photos.size(); ++i) {
    if (dossier.photos[i] == nullptr) continue;
    const std::size_t first = pages.size();
    PlanPhoto(*dossier.photos[i], canvas, pages);
    for (std::size_t k = first; k < pages.size(); ++k) {
      if (!pages[k].bookmark.empty()) {
        pages[k].bookmark = fmt::format("Photo {}: {}", i + 1, pages[k].bookmark);
      }
    }
    SetFooters(FooterOf(*dossier.photos[i]), dossier.is_demonstration, pages);
  }
  PlanDossierEnd(dossier, canvas, pages);
  SetFooters(FooterOf(dossier), dossier.is_demonstration, pages);
  DrawPages(canvas, body, pages);
  return canvas.Finish();
}

}  // namespace debossier::report
