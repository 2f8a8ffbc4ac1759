// debossier-simulate: writes simulated photographs of stamped lettering, with their truth.
#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <cstdio>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "base/result.h"
#include "base/version.h"
#include "image/photo.h"
#include "simulate/die.h"
#include "simulate/simulate.h"

namespace debossier::simulate {
namespace {

struct Arguments {
  DiePlan die;
  std::string level = "typical";
  std::string finish;
  std::string leather;
  std::string leather_colour;
  double cap_height = 0;
  std::uint64_t seed = 1;
  int count = 1;
  std::vector<std::string> settings;
  std::vector<std::string> departures;
  std::string surface;
  double surface_width = 15;
  std::string out = ".";
  std::string name = "simulated";
  bool list_amounts = false;
  bool list_departures = false;
};

int Fail(const Error& error) {
  fmt::print(stderr, "debossier-simulate: {}\n", error.ToString());
  return ExitCode(error.code);
}

std::optional<double> ToNumber(const std::string& text) {
  double value = 0;
  return CLI::detail::lexical_cast(text, value) ? std::optional(value) : std::nullopt;
}

Unexpected Misuse(const std::string& where, const std::string& message, const std::string& hint) {
  return Refuse(ErrorCode::kUsage, "simulate", where, message, hint);
}

/// "NAME", "NAME=AMOUNT" or "NAME@ELEMENT=AMOUNT".
Result<Departure> ParseDeparture(const std::string& text) {
  Departure departure;
  const std::size_t equals = text.rfind('=');
  const std::string head = text.substr(0, equals);
  const std::size_t at = head.find('@');
  departure.name = head.substr(0, at);
  if (at != std::string::npos) departure.element = head.substr(at + 1);
  const auto kinds = DepartureKinds();
  const auto kind = std::find_if(kinds.begin(), kinds.end(), [&](const DepartureKind& candidate) {
    return departure.name == candidate.name;
  });
  if (kind == kinds.end()) {
    return Misuse(departure.name, "there is no such departure", "--departures lists them");
  }
  departure.amount = kind->usual;
  if (equals == std::string::npos) return departure;
  const auto amount = ToNumber(text.substr(equals + 1));
  if (!amount || !(std::abs(*amount) < 10)) {
    return Misuse(text, "the amount is not a number below 10", "write NAME@ELEMENT=AMOUNT");
  }
  departure.amount = *amount;
  return departure;
}

Result<std::vector<Departure>> ParseDepartures(const Arguments& a) {
  std::vector<Departure> departures;
  for (const std::string& text : a.departures) {
    auto departure = ParseDeparture(text);
    if (!departure) return PassOn(departure);
    departures.push_back(*std::move(departure));
  }
  return departures;
}

Result<Choices> MakeChoices(const Arguments& a) {
  Choices choices;
  if (!a.leather.empty()) {
    const auto leather = LeatherNamed(a.leather);
    if (!leather) return PassOn(leather);
    choices.leather = *leather;
  }
  if (!a.finish.empty()) {
    const auto finish = FinishNamed(a.finish);
    if (!finish) return PassOn(finish);
    choices.finish = *finish;
  }
  if (!a.leather_colour.empty()) choices.leather_colour = a.leather_colour;
  return choices;
}

Result<std::monostate> ApplySettings(const Arguments& a, Amounts& amounts) {
  if (a.cap_height > 0) amounts.cap_height_px = a.cap_height;
  for (const std::string& setting : a.settings) {
    const std::size_t equals = setting.find('=');
    const auto value =
        equals == std::string::npos ? std::nullopt : ToNumber(setting.substr(equals + 1));
    if (!value) return Misuse(setting, "is not NAME=NUMBER", "--amounts lists the names");
    if (const auto set = SetAmount(amounts, setting.substr(0, equals), *value); !set) {
      return PassOn(set);
    }
  }
  return std::monostate{};
}

Result<std::shared_ptr<const SurfacePicture>> LoadSurface(const Arguments& a) {
  if (a.surface.empty()) return std::shared_ptr<const SurfacePicture>();
  const auto photo = image::LoadPhoto(a.surface);
  if (!photo) return PassOn(photo);
  auto surface = std::make_shared<SurfacePicture>();
  surface->bgr = photo->bgr;
  surface->width_mm = a.surface_width;
  // A normal map points at the viewer: its blue is high everywhere.
  surface->is_normal_map = cv::mean(photo->bgr)[0] > 180;
  return std::shared_ptr<const SurfacePicture>(surface);
}

Result<std::monostate> Run(const Arguments& a) {
  const auto level = LevelNamed(a.level);
  if (!level) return PassOn(level);
  const auto choices = MakeChoices(a);
  if (!choices) return PassOn(choices);
  auto departures = ParseDepartures(a);
  if (!departures) return PassOn(departures);
  const auto die = MakeDie(a.die, *departures);
  if (!die) return PassOn(die);
  const auto surface = LoadSurface(a);
  if (!surface) return PassOn(surface);
  for (int k = 0; k < a.count; ++k) {
    auto options = DrawOptions(*level, a.seed + static_cast<std::uint64_t>(k), *choices);
    if (!options) return PassOn(options);
    options->departures = *departures;
    options->surface = *surface;
    if (const auto set = ApplySettings(a, options->amounts); !set) return PassOn(set);
    const auto simulated = Simulate(*die, *options);
    if (!simulated) return PassOn(simulated);
    const std::string name = a.count == 1 ? a.name : fmt::format("{}-{:04}", a.name, k);
    if (const auto written = WriteSimulated(*simulated, a.out, name); !written) {
      return PassOn(written);
    }
    fmt::print("{}.jpg\n", name);
  }
  return std::monostate{};
}

void PrintAmounts() {
  for (const AmountRow& row : AmountTable()) {
    fmt::print("{:20} {:12} clean {:g}..{:g}  typical {:g}..{:g}  hard {:g}..{:g}\n    {}\n",
               row.name, row.unit, row.clean.low, row.clean.high, row.typical.low, row.typical.high,
               row.hard.low, row.hard.high, row.meaning);
  }
}

void PrintDepartures() {
  for (const DepartureKind& kind : DepartureKinds()) {
    fmt::print("{:16} {:12} usually {:g}\n    {}\n", kind.name, kind.unit, kind.usual,
               kind.meaning);
  }
}

void AddDieOptions(CLI::App& app, DiePlan& a) {
  app.add_option("--font", a.face, "font file, or UFO folder of an alphabet");
  app.add_option("--origin-font", a.origin_face, "font file for the lines after the first");
  app.add_option("--other-font", a.other_face, "face that departures take letters from");
  app.add_option("--line", a.lines, "text of a line; repeat for more; the first is the wordmark");
  app.add_option("--line-size", a.line_size, "cap height of the lines after the first")
      ->check(CLI::Range(0.05, 5.0));
  app.add_option(
         "--line-step", a.line_step,
         "from one baseline to the next, cap heights; 1.1, or more with a frame, if not given")
      ->check(CLI::Range(0.1, 20.0));
  app.add_option("--tracking", a.tracking, "space added after each letter, cap heights of the line")
      ->check(CLI::Range(-0.5, 2.0));
  app.add_option("--mark", a.mark.character, "sign beside the wordmark, for example ®");
  app.add_option("--mark-size", a.mark.size, "height of the sign")->check(CLI::Range(0.05, 2.0));
  app.add_option("--mark-gap", a.mark.gap, "from the last letter to the sign")
      ->check(CLI::Range(-1.0, 5.0));
  app.add_option("--mark-rise", a.mark.rise, "from the baseline to the sign's lower edge")
      ->check(CLI::Range(-2.0, 2.0));
  app.add_option("--frame", a.frame, "rule round the origin line")
      ->transform(CLI::CheckedTransformer(std::map<std::string, outline::FrameKind>{
          {"none", outline::FrameKind::kNone},
          {"ellipse", outline::FrameKind::kEllipse},
          {"rectangle", outline::FrameKind::kRectangle}}));
  app.add_option("--other-text", a.other_text, "new text of the line for the departure text");
}

void AddPhotoOptions(CLI::App& app, Arguments& a) {
  app.add_option("--departure", a.departures,
                 "change the die: NAME, NAME=AMOUNT or NAME@ELEMENT=AMOUNT; repeat for more");
  app.add_option("--level", a.level, "clean, typical or hard");
  app.add_option("--finish", a.finish, "gold, rose, silver, white, black, colour or blind");
  app.add_option("--leather", a.leather, "pebbled, smooth or cross-grain");
  app.add_option("--leather-colour", a.leather_colour, "black, brown, tan, red, beige, ...");
  app.add_option("--cap-height", a.cap_height, "cap height in the picture, px")
      ->check(CLI::Range(6.0, 2000.0));
  app.add_option("--set", a.settings, "set one amount: NAME=NUMBER; repeat for more");
  app.add_option("--surface", a.surface, "normal map or photograph of a leather, for the grain");
  app.add_option("--surface-width", a.surface_width, "its width on the leather, mm")
      ->check(CLI::Range(1.0, 500.0));
  app.add_option("--seed", a.seed, "the same seed gives the same bytes");
  app.add_option("--count", a.count, "how many pictures, with seeds counting up")
      ->check(CLI::Range(1, 100000));
  app.add_option("--out", a.out, "existing folder to write into");
  app.add_option("--name", a.name, "name of the files");
  app.add_flag("--amounts", a.list_amounts, "list every amount and its range in each level");
  app.add_flag("--departures", a.list_departures, "list the departures");
}

int Main(int argc, char** argv) {
  CLI::App app("Writes simulated photographs of stamped lettering, with their truth as JSON.");
  app.set_version_flag("--version", std::string("debossier-simulate ") + kVersion);
  Arguments arguments;
  AddDieOptions(app, arguments.die);
  AddPhotoOptions(app, arguments);
  app.set_config("--options", "", "file of options, a line each: name=value");
  CLI11_PARSE(app, argc, argv);
  if (arguments.list_amounts) PrintAmounts();
  if (arguments.list_departures) PrintDepartures();
  if (arguments.list_amounts || arguments.list_departures) return 0;
  if (arguments.die.face.empty()) {
    return Fail({ErrorCode::kUsage, "simulate", "--font", "there is no face to set the text in",
                 "give a font file or a UFO folder"});
  }
  const auto done = Run(arguments);
  return done ? 0 : Fail(done.error());
}

}  // namespace
}  // namespace debossier::simulate

int main(int argc, char** argv) {
  try {
    return debossier::simulate::Main(argc, argv);
  } catch (const std::exception& e) {
    fmt::print(stderr, "debossier-simulate: {}\n", e.what());
    return 70;
  }
}
