#include "report/chapter.h"

#include <utility>

namespace debossier::report {
namespace {

constexpr double kNameWidth = 118;
constexpr double kHeadingRoom = 40;
constexpr double kBlankHeight = 17;  // to write in by hand

}  // namespace

void Chapter::Add(Block::Kind kind, std::string name, std::string text) {
  blocks_.push_back({kind, std::move(name), std::move(text), left_at_right_});
}
void Chapter::Heading(std::string text) { Add(Block::Kind::kHeading, "", std::move(text)); }
void Chapter::Named(std::string name, std::string text) {
  Add(Block::Kind::kNamed, std::move(name), std::move(text));
}
void Chapter::Paragraph(std::string text) { Add(Block::Kind::kParagraph, "", std::move(text)); }
void Chapter::Bullet(std::string text) { Add(Block::Kind::kBullet, "", std::move(text)); }

TextStyle Chapter::StyleOf(const Block& block) {
  return block.kind == Block::Kind::kHeading ? TextStyle{.size = 11.5, .bold = true}
         : block.kind == Block::Kind::kNamed ? TextStyle{.size = 9}
                                             : TextStyle{.size = 10};
}

double Chapter::TextX(const Block& block, const Rect& body) {
  switch (block.kind) {
    case Block::Kind::kNamed:
      return body.x + kNameWidth;
    case Block::Kind::kBullet:
      return body.x + 12;
    default:
      return body.x;
  }
}

double Chapter::TextWidth(const Block& block, const Rect& body) {
  return body.right() - TextX(block, body) - block.left_at_right;
}

double Chapter::Height(Canvas& canvas, const Block& block, const Rect& body) {
  if (block.kind == Block::Kind::kNamed && block.text.empty()) return kBlankHeight;
  const double text = canvas.TextHeight(TextWidth(block, body), block.text, StyleOf(block));
  return text + (block.kind == Block::Kind::kHeading ? 17
                 : block.kind == Block::Kind::kNamed ? 2
                                                     : 4);
}

void Chapter::Draw(Canvas& canvas, const Block& block, const Rect& body, double y) {
  const bool heading = block.kind == Block::Kind::kHeading;
  const Tag tag(canvas, heading ? "H2" : "P");
  if (heading) y += 10;
  if (block.kind == Block::Kind::kNamed) {
    canvas.Text({body.x, y}, kNameWidth - 8, block.name,
                {.size = 9, .colour = kQuietInk, .max_lines = 1});
  }
  if (block.kind == Block::Kind::kNamed && block.text.empty()) {
    canvas.Line({TextX(block, body), y + kBlankHeight - 3},
                {TextX(block, body) + TextWidth(block, body), y + kBlankHeight - 3}, kRule, 0.6);
    return;
  }
  if (block.kind == Block::Kind::kBullet) canvas.Fill({body.x + 1, y + 3.6, 3, 3}, kInk);
  canvas.Text({TextX(block, body), y}, TextWidth(block, body), block.text, StyleOf(block));
}

void Chapter::DrawPage(Canvas& canvas, const Rect& body, const std::string& heading,
                       const std::vector<Block>& blocks, const Aside& aside) {
  double y = DrawHeading(canvas, body, heading);
  bool is_drawn = !aside;
  for (const Block& block : blocks) {
    if (!is_drawn && block.left_at_right > 0) {
      aside(canvas, y + 10);
      is_drawn = true;
    }
    Draw(canvas, block, body, y);
    y += Height(canvas, block, body);
  }
}

void Chapter::Plan(const Rect& body, Canvas& canvas, Pages& pages) && {
  const double room = body.height - kHeadingRoom;
  std::vector<Block> here;
  double used = 0;
  bool first = true;
  const auto flush = [&] {
    pages.push_back({first ? heading_ : "",
                     [body, heading = heading_ + (first ? "" : ", continued"),
                      aside = first ? std::move(aside_) : Aside(), blocks = std::move(here)](
                         Canvas& page) { DrawPage(page, body, heading, blocks, aside); }});
    here.clear();
    used = 0;
    first = false;
  };
  for (std::size_t i = 0; i < blocks_.size(); ++i) {
    const Block& block = blocks_[i];
    const double height = Height(canvas, block, body);
    double needed = height;
    // A heading moves on with the block that follows it.
    if (block.kind == Block::Kind::kHeading && i + 1 < blocks_.size()) {
      needed += Height(canvas, blocks_[i + 1], body);
    }
    if (used + needed > room && !here.empty()) flush();
    here.push_back(block);
    used += height;
  }
  flush();
}

}  // namespace debossier::report
