#include <memory>

#include "base/outputs.h"
#include "cli/commands.h"
#include "report/card_pdf.h"

namespace debossier::cli {

namespace {

struct CardJob {
  std::string pdf;
  std::string paper = "a4";
  bool replace = false;
};

Result<std::string> RunCard(const CardJob& job) {
  const IfExists if_exists = job.replace ? IfExists::kReplace : IfExists::kRefuse;
  if (auto free = CheckOutputs({{"--pdf", job.pdf}}, {}, {}, if_exists, "cli"); !free) {
    return PassOn(free);
  }
  report::PdfOptions options;
  if (job.paper == "letter") options.paper = report::Paper::kLetter;
  auto pdf = report::CardPdf(options);
  if (!pdf) return PassOn(pdf);
  if (auto written = WriteFileWhole(job.pdf, *pdf, if_exists, "cli"); !written) {
    return PassOn(written);
  }
  return std::string(
      "Print the page at 100 %, measure its check line, cut the card out and lay it flat beside "
      "the stamp.\n");
}

}  // namespace

void AddCard(CLI::App& app, Job& job) {
  auto* command = app.add_subcommand(
      "card", "Write the scale card as a page to print; laid beside a stamp it gives millimetres");
  auto state = std::make_shared<CardJob>();
  command->add_option("--pdf", state->pdf, "Write the page here")->required();
  command->add_option("--paper", state->paper, "Paper: a4 or letter")
      ->check(CLI::IsMember({"a4", "letter"}));
  command->add_flag("--replace", state->replace, "Replace an output that exists");
  command->callback([&job, state] { job = [state] { return RunCard(*state); }; });
}

void AddCardOptions(CLI::App& command, card::ScaleOptions& options) {
  command.add_flag("--card", options.card,
                   "The scale card lies beside the stamp: find it and give millimetres");
  command.add_option("--card-check-mm", options.card_check_mm,
                     "What the printed card's check line of 100 mm measures");
}

void AddScaleOptions(CLI::App& command, card::ScaleOptions& options) {
  AddCardOptions(command, options);
  command
      .add_option("--scale-points", options.points,
                  "Two points of known distance in the stamp's plane: x1,y1,x2,y2 in photo pixels")
      ->delimiter(',');
  command.add_option("--scale-mm", options.points_mm, "The distance of the two points, mm");
  auto* corners =
      command
          .add_option(
              "--scale-corners", options.corners,
              "Four corners of a rectangle of known size in the stamp's plane, in order round "
              "it, both ends of a long side first: x1,y1,...,x4,y4 in photo pixels; of a bank "
              "card, where its straight edges would meet")
          ->delimiter(',');
  command
      .add_option(
          "--scale-size",
          [&options](const std::vector<std::string>& given) {
            double width = 0, height = 0;
            if (given.size() != 2 || !CLI::detail::lexical_cast(given[0], width) ||
                !CLI::detail::lexical_cast(given[1], height)) {
              throw CLI::ConversionError("--scale-size: give width,height in mm, two numbers");
            }
            options.rectangle_width_mm = width;
            options.rectangle_height_mm = height;
            return true;
          },
          "The rectangle's long and short side: width,height in mm (default: a bank card, "
          "85.60,53.98)")
      ->delimiter(',')
      ->expected(1, 8)
      ->needs(corners);
  command.add_option("--scale-pick-px", options.pick_px,
                     "Standard uncertainty of each coordinate picked by hand, pixels "
                     "(default 1.5)");
}

}  // namespace debossier::cli
