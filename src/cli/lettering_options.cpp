#include <fmt/format.h>

#include "cli/commands.h"

namespace debossier::cli {

void LetteringOptions::AddTo(CLI::App& command) {
  command
      .add_option("--line", lines,
                  "Text of one line as stamped, case kept; from the top, the wordmark first. "
                  "Repeat for each line")
      ->required()
      ->take_all();
  command.add_option("--mark", mark, "Small sign beside the wordmark: ®, © or ™");
  command.add_option("--frame", frame, "Rule around the lettering: none, ellipse or rectangle")
      ->check(CLI::IsMember({"none", "ellipse", "rectangle"}));
  command
      .add_option("--frame-line", frame_line,
                  "Number of the line that the frame encloses (1 is the wordmark; 0: all)")
      ->check(CLI::Range(0, 20));
}

Result<reading::TextSpec> LetteringOptions::Spec() const {
  reading::TextSpec spec;
  const auto refuse = [](const std::string& what, const std::string& hint) {
    return Refuse(ErrorCode::kUsage, "cli", "", what, hint);
  };
  if (lines.size() > 20)
    return refuse("more than 20 lines are given", "give the stamp's own lines");
  for (std::size_t i = 0; i < lines.size(); ++i) {
    const std::string id = i == 0 ? "wordmark" : i == 1 ? "origin" : fmt::format("line{}", i + 1);
    if (lines[i].find_first_not_of(" \t") == std::string::npos || lines[i].size() > 400) {
      return refuse(fmt::format("line {} is empty or longer than 400 bytes", i + 1),
                    "give the text as stamped");
    }
    spec.lines.push_back({id, lines[i]});
  }
  spec.mark = mark;
  if (outline::Characters(mark).size() > 1) {
    return refuse("the mark is more than one character", "give ®, © or ™");
  }
  if (frame == "ellipse") spec.frame = outline::FrameKind::kEllipse;
  if (frame == "rectangle") spec.frame = outline::FrameKind::kRectangle;
  if (frame_line > static_cast<int>(lines.size())) {
    return refuse("--frame-line names a line that is not there", "count the lines from 1");
  }
  spec.frame_line_idx = frame_line - 1;
  return spec;
}

}  // namespace debossier::cli
