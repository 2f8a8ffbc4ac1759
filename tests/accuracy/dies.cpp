#include "accuracy/dies.h"

#include <array>

#include "simulate/die.h"

namespace debossier::accuracy {

namespace {

using outline::FrameKind;

constexpr const char* kUrwGothic = "/usr/share/fonts/opentype/urw-base35/URWGothic-Book.otf";
constexpr const char* kSpartan =
    "/usr/share/fonts/opentype/league-spartan/LeagueSpartan-Regular.otf";
constexpr const char* kQuicksand = "/usr/share/fonts/truetype/quicksand/Quicksand-Bold.ttf";
constexpr const char* kNimbusSans = "/usr/share/fonts/opentype/urw-base35/NimbusSans-Bold.otf";
constexpr const char* kFreeSans = "/usr/share/fonts/truetype/freefont/FreeSans.ttf";
constexpr const char* kRoboto = "/usr/share/fonts/truetype/roboto/hinted/Roboto-Regular.ttf";
constexpr const char* kLato = "/usr/share/fonts/truetype/lato/Lato-Regular.ttf";
constexpr const char* kOpenSans = "/usr/share/fonts/truetype/open-sans/OpenSans-Semibold.ttf";
constexpr const char* kCantarell = "/usr/share/fonts/opentype/cantarell/Cantarell-Regular.otf";
constexpr const char* kOldStandard =
    "/usr/share/fonts/truetype/fonts-oldstandard/OldStandard-Bold.ttf";
constexpr const char* kDidot = "/usr/share/fonts/opentype/didot/GFSDidotBold.otf";
constexpr const char* kLmRoman = "/usr/share/texmf/fonts/opentype/public/lm/lmroman10-bold.otf";
constexpr const char* kGaramond = "/usr/share/fonts/opentype/ebgaramond/EBGaramond12-Bold.otf";
constexpr const char* kPalatino = "/usr/share/fonts/opentype/urw-base35/P052-Bold.otf";
constexpr const char* kCardo = "/usr/share/fonts/truetype/cardo/Cardo104s.ttf";

constexpr std::array<DiePlan, 15> kPlans = {{
    {"geometric", kUrwGothic, kSpartan, false, "MARWIGGE", "MADE IN VALDORE", "®",
     FrameKind::kNone},
    {"geometric", kSpartan, kQuicksand, true, "ORBENNA", "PARIS NOUVAL", "®", FrameKind::kNone},
    {"geometric", kQuicksand, kUrwGothic, true, "KELMARE", "MADE IN TESSANY", "®",
     FrameKind::kEllipse},
    {"grotesque", kNimbusSans, kRoboto, false, "SERANDI", "MADE IN VALDORE", "®", FrameKind::kNone},
    {"grotesque", kFreeSans, kRoboto, true, "TOLVANE", "HAND STITCHED", "™", FrameKind::kNone},
    {"grotesque", kRoboto, kNimbusSans, false, "BRAUGHEM", "MADE IN OSTREY", "®",
     FrameKind::kEllipse},
    {"humanist", kLato, kOpenSans, false, "DUVERNIK", "MADE IN VALDORE", "®", FrameKind::kNone},
    {"humanist", kOpenSans, kCantarell, true, "PELLAROSA", "FATTO A MIRENZE", "®",
     FrameKind::kNone},
    {"humanist", kCantarell, kLato, false, "GRANDJEU", "MAROQUINIER", "©", FrameKind::kRectangle},
    {"didone", kOldStandard, kDidot, false, "VALTORRE", "MADE IN TESSANY", "®", FrameKind::kNone},
    {"didone", kDidot, kOldStandard, true, "CHAMBREAU", "PARIS NOUVAL", "®", FrameKind::kNone},
    {"didone", kLmRoman, kOldStandard, true, "HARTEWIJK", "MADE IN OSTREY", "®",
     FrameKind::kEllipse},
    {"old style", kGaramond, kCardo, false, "FENWICKE", "MADE IN VALDORE", "®", FrameKind::kNone},
    {"old style", kPalatino, kGaramond, true, "JORDAVAL", "HAND STITCHED", "®", FrameKind::kNone},
    {"old style", kCardo, kPalatino, true, "QUERELLO", "MADE IN TESSANY", "™", FrameKind::kNone},
}};

}  // namespace

std::span<const DiePlan> DiePlans() { return kPlans; }

Result<outline::Lettering> MakeDie(const DiePlan& plan,
                                   std::vector<simulate::Departure>& departures) {
  simulate::DiePlan die;
  die.face = plan.font;
  die.other_face = plan.look_alike;
  die.lines = {plan.wordmark, plan.origin};
  die.mark.character = plan.mark;
  die.frame = plan.frame;
  return simulate::MakeDie(die, departures);
}

}  // namespace debossier::accuracy
