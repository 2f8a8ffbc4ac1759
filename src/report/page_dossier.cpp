// Page one of a dossier: the finding over all photos, the most telling picture of each stamp over a
// verified one, and the strongest departures with the photos they are seen in.
#include <fmt/format.h>

#include <algorithm>

#include "report/dossier_pages.h"
#include "report/front_page.h"
#include "results/dossier_json.h"
#include "results/words.h"

namespace debossier::report {

namespace {

using compare::Finding;
using compare::JointReason;
using compare::Together;

constexpr std::size_t kMostPairs = 2;  // on page one
constexpr std::size_t kMostCards = 3;
constexpr std::size_t kMostContradictions = 3;
constexpr double kCardGap = 8;
constexpr double kPairGap = 6;
constexpr double kLeastPicture = 44;
constexpr double kNoteGap = 3;
constexpr double kCaptionRow = 12;
constexpr double kHeadingRoom = 40;
constexpr TextStyle kNoteStyle{.size = 9.5, .max_lines = 6};
constexpr TextStyle kCaptionStyle{.size = 9, .colour = kInk, .max_lines = 1, .shrinks = true};

/// A departure, drawn from the photo that shows it best.
struct Card {
  const JointReason* joint = nullptr;
  const Material* material = nullptr;
  double height = 0;
};

std::string SeenIn(const JointReason& joint) {
  std::string words = "Seen in " + compare::PhotosInWords(joint.said_by);
  std::vector<int> silent;
  for (const auto& s : joint.silent) silent.push_back(s.number);
  if (!silent.empty()) words += ", not in " + compare::PhotosInWords(silent);
  if (joint.withdrawn) words += ": withdrawn";
  return words + ".";
}

const Material* At(const DossierMaterial& dossier, int number) {
  return dossier.photos[static_cast<std::size_t>(number) - 1];
}

std::vector<Card> Cards(const DossierMaterial& dossier, Canvas& canvas) {
  std::vector<Card> cards;
  for (const Together& t : dossier.item.sets) {
    for (const JointReason& joint : t.reasons) {
      const Material* material = At(dossier, joint.shown_best);
      cards.push_back(
          {&joint, material, CardHeight(canvas, *material, joint.reason, SeenIn(joint))});
    }
  }
  std::stable_partition(cards.begin(), cards.end(),
                        [](const Card& c) { return !c.joint->withdrawn; });
  return cards;
}

/// How much a photo shows: by its finding where that is the set's, then by pixels a blur.
double Sharpness(const compare::Comparison& c) {
  const auto& q = c.measured.quality;
  return q.cap_height_px / std::max(q.blur_px, 0.5);
}

/// The photo that stands for a set's stamp: the one with the strongest departure, or else the
/// sharpest of those whose finding is the set's. Null where none can be drawn.
const Material* BestOf(const DossierMaterial& dossier, const Together& t) {
  if (!t.reasons.empty()) return At(dossier, t.reasons.front().shown_best);
  const Material* best = nullptr;
  for (const Material* m : dossier.photos) {
    if (m == nullptr || m->comparison.refset_id != t.refset_id || !m->lettering_box) continue;
    const auto rank = [&](const Material& of) {
      return std::pair(of.comparison.finding == t.finding, Sharpness(of.comparison));
    };
    if (best == nullptr || rank(*m) > rank(*best)) best = m;
  }
  return best;
}

/// A set's best picture on page one.
struct Pair {
  const Together* set = nullptr;
  const Material* material = nullptr;
};

struct Front {
  std::vector<Pair> pairs;
  std::vector<Card> cards;
  std::vector<std::string> notes;
  double picture = 0;
};

double NotesHeight(const DossierMaterial& dossier, Canvas& canvas,
                   const std::vector<std::string>& notes) {
  double height = notes.empty() ? 0 : kSubheadingHeight;
  for (const std::string& note : notes) {
    height += canvas.TextHeight(dossier.body.width - 12, note, kNoteStyle) + kNoteGap;
  }
  return height;
}

/// What a set's photos would have shown, had it been there; empty unless nothing was found.
std::string WouldHaveShown(const Together& t) {
  if (t.finding != Finding::kNoDepartureFound) return "";
  compare::Comparison best;
  best.sentences = t.sentences;
  std::string words;
  for (const MeasureLimit& limit : LargestLimits(best)) {
    words += fmt::format("{}{} {}", words.empty() ? "" : "; ", limit.measure, LimitInWords(limit));
  }
  if (words.empty()) return "";
  return fmt::format(
      "At least one photo with set {} would have shown a departure of this size: {}.", t.refset_id,
      words);
}

std::vector<std::string> Notes(const DossierMaterial& dossier) {
  std::vector<std::string> notes;
  for (std::size_t i = 0; i < dossier.item.photos.size(); ++i) {
    const auto& photo = dossier.item.photos[i];
    notes.push_back(fmt::format("Photo {} ({}, set {}): {}.", i + 1, photo.name, photo.refset_id,
                                OutcomeInWords(photo)));
  }
  for (const Together& t : dossier.item.sets) {
    const std::string shown = WouldHaveShown(t);
    if (!shown.empty()) notes.push_back(shown);
  }
  std::size_t more = 0;
  for (const Together& t : dossier.item.sets) {
    for (const auto& c : t.contradictions) {
      if (more++ < kMostContradictions) notes.push_back("Contradiction: " + c.text);
    }
  }
  if (more > kMostContradictions) {
    notes.push_back(
        fmt::format("{} more contradictions stand with the photos.", more - kMostContradictions));
  }
  return notes;
}

double HeaderHeight(const DossierMaterial& dossier, Canvas& canvas) {
  return 26 + FactsHeight() + FindingHeight(canvas, dossier.body.width, dossier.item.summary) + 10;
}

Front Compose(const DossierMaterial& dossier, Canvas& canvas) {
  Front front;
  for (const Together& t : dossier.item.sets) {
    const Material* best = BestOf(dossier, t);
    if (best != nullptr && front.pairs.size() < kMostPairs) front.pairs.push_back({&t, best});
  }
  front.cards = Cards(dossier, canvas);
  if (front.cards.size() > kMostCards) front.cards.resize(kMostCards);
  front.notes = Notes(dossier);
  const double room = dossier.body.height - HeaderHeight(dossier, canvas) -
                      DisclaimerHeight(canvas, dossier.body.width) - 8;
  const auto count = static_cast<double>(front.pairs.size());
  const auto pairs = [&](double picture) {
    return count * (PlainPairHeight(picture) + kCaptionRow + kPairGap);
  };
  const auto below = [&] {
    double height = front.cards.empty() ? 0 : kSubheadingHeight;
    for (const Card& card : front.cards) height += card.height + kCardGap;
    return height + NotesHeight(dossier, canvas, front.notes);
  };
  while (pairs(kLeastPicture) + below() > room && (!front.notes.empty() || !front.cards.empty())) {
    if (!front.notes.empty()) {
      front.notes.pop_back();
    } else {
      front.cards.pop_back();
    }
  }
  if (front.pairs.empty()) return front;
  double whole = kLeastPicture;
  for (const Pair& pair : front.pairs) {
    const auto box = ExhibitBox(*pair.material);
    if (box) whole = std::max(whole, dossier.body.width * box->height() / box->width());
  }
  const double each = (room - below() - pairs(0)) / (2 * count);
  front.picture = std::clamp(each, kLeastPicture, whole);
  return front;
}

std::string SetsInWords(const DossierMaterial& dossier) {
  std::string words;
  for (const Together& t : dossier.item.sets) {
    const auto of = std::find_if(dossier.photos.begin(), dossier.photos.end(), [&](const auto* m) {
      return m != nullptr && m->comparison.refset_id == t.refset_id;
    });
    if (!words.empty()) words += "; ";
    if (of == dossier.photos.end()) {
      words += "set " + t.refset_id;
      continue;
    }
    const compare::Comparison& c = (*of)->comparison;
    const std::string maker = MakerInWords(c);
    words +=
        fmt::format("{}{}{}, {}", maker, maker.empty() ? "" : ": ", SetInWords(c), ItemsInWords(c));
  }
  return words;
}

std::string PhotoCount(const DossierMaterial& dossier) {
  const auto compared =
      dossier.photos.size() -
      static_cast<std::size_t>(std::count(dossier.photos.begin(), dossier.photos.end(), nullptr));
  const std::size_t all = dossier.photos.size();
  const std::string words = all == 1 ? "1 photo" : fmt::format("{} photos", all);
  return compared == all ? words : fmt::format("{}, {} of them compared", words, compared);
}

const char* HeadingOfCards(Finding finding) {
  return finding == Finding::kDeparts ? "What departs most, over all photos"
                                      : "What some photos show and others should, but do not";
}

void DrawFront(Canvas& canvas, const DossierMaterial& dossier) {
  const Rect& body = dossier.body;
  const ReportFields& f = dossier.fields;
  const Front front = Compose(dossier, canvas);
  double y = body.y;
  {
    const Tag tag(canvas, "H1");
    canvas.Text({body.x, y}, body.width, "Item dossier", {.size = 19, .bold = true});
  }
  y += 26;
  DrawFacts(canvas, body, y,
            {{{"Item", f.item},
              {"Photos", PhotoCount(dossier)},
              {"Compared with", SetsInWords(dossier)},
              {"Examined by", ExaminedBy(f)}}},
            {{{"Report", dossier.number},
              {"Examined for", f.client},
              {"Examined on", f.examined},
              {"Issued on", f.issued}}});
  y += FactsHeight();
  const double finding = FindingHeight(canvas, body.width, dossier.item.summary);
  DrawFindingPanel(canvas, {body.x, y, body.width, finding}, dossier.item.finding,
                   dossier.item.summary);
  y += finding + 10;
  for (const Pair& pair : front.pairs) {
    {
      const Tag tag(canvas, "P");
      canvas.Text({body.x, y}, body.width,
                  fmt::format("{}: {} in set {}, best seen in {}", Headline(pair.set->finding),
                              pair.material->comparison.reference.lines.front().text,
                              pair.set->refset_id, pair.material->part),
                  kCaptionStyle);
    }
    y += kCaptionRow;
    DrawPlainPair(canvas, *pair.material, {body.x, y}, body.width, front.picture);
    y += PlainPairHeight(front.picture) + kPairGap;
  }
  if (!front.cards.empty()) {
    DrawSubheading(canvas, body, y, HeadingOfCards(dossier.item.finding));
    y += kSubheadingHeight;
  }
  for (std::size_t i = 0; i < front.cards.size(); ++i) {
    const Card& card = front.cards[i];
    DrawCard(canvas, *card.material, card.joint->reason, static_cast<int>(i) + 1,
             {body.x, y, body.width, card.height}, SeenIn(*card.joint));
    y += card.height + kCardGap;
  }
  if (!front.notes.empty()) {
    DrawSubheading(canvas, body, y, "What each photo says");
    y += kSubheadingHeight;
  }
  for (const std::string& note : front.notes) {
    const Tag tag(canvas, "P");
    canvas.Fill({body.x + 1, y + 3.2, 3, 3}, kInk);
    y += canvas.Text({body.x + 12, y}, body.width - 12, note, kNoteStyle) + kNoteGap;
  }
  DrawDisclaimer(canvas, body);
}

/// Departures and pictures that page one has no room for.
void PlanMore(const DossierMaterial& dossier, Canvas& canvas, Pages& pages) {
  std::vector<Card> cards = Cards(dossier, canvas);
  std::size_t next = Compose(dossier, canvas).cards.size();
  bool is_first = true;
  while (next < cards.size()) {
    double room = dossier.body.height - kHeadingRoom;
    std::vector<Card> here;
    const std::size_t first = next;
    while (next < cards.size() && (here.empty() || cards[next].height + kCardGap <= room)) {
      room -= cards[next].height + kCardGap;
      here.push_back(cards[next++]);
    }
    const std::string heading = HeadingOfCards(dossier.item.finding);
    pages.push_back(
        {is_first ? heading : "", [&dossier, here, first, is_first, heading](Canvas& page) {
           const Rect& body = dossier.body;
           double y = DrawHeading(page, body, heading + (is_first ? "" : ", continued"));
           for (std::size_t i = 0; i < here.size(); ++i) {
             DrawCard(page, *here[i].material, here[i].joint->reason,
                      static_cast<int>(first + i) + 1, {body.x, y, body.width, here[i].height},
                      SeenIn(*here[i].joint));
             y += here[i].height + kCardGap;
           }
         }});
    is_first = false;
  }
}

}  // namespace

std::string FooterOf(const DossierMaterial& dossier) {
  const auto of = std::find_if(dossier.photos.begin(), dossier.photos.end(),
                               [](const auto* m) { return m != nullptr; });
  return fmt::format("report {} · {} · {}", dossier.number, PhotoCount(dossier),
                     of == dossier.photos.end() ? std::string()
                                                : "debossier " + (*of)->comparison.program_version);
}

void PlanFront(const DossierMaterial& dossier, Canvas& canvas, Pages& pages) {
  pages.push_back(
      {"Finding over all photos", [&dossier](Canvas& page) { DrawFront(page, dossier); }});
  PlanMore(dossier, canvas, pages);
}

}  // namespace debossier::report
