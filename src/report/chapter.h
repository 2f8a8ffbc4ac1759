// Pages of headings, named facts, paragraphs and bullets under one heading, broken where they must.
//
// Frame: page points, y down.
#pragma once

#include <functional>
#include <string>
#include <vector>

#include "report/pages.h"

namespace debossier::report {

class Chapter {
 public:
  explicit Chapter(std::string heading) : heading_(std::move(heading)) {}

  void Heading(std::string text);
  /// A name and its value; without one, a line to write on.
  void Named(std::string name, std::string text);
  void Paragraph(std::string text);
  void Bullet(std::string text);

  /// Keeps this much free at the right of all blocks from now on; 0 ends it.
  void LeaveAtRight(double width) { left_at_right_ = width; }
  /// Draws what stands there, at the height of the first such block.
  using Aside = std::function<void(Canvas&, double y)>;
  void SetAside(Aside aside) { aside_ = std::move(aside); }

  /// Adds the chapter's pages.
  void Plan(const Rect& body, Canvas& canvas, Pages& pages) &&;

 private:
  // A block of text that stays together on one page.
  struct Block {
    enum class Kind { kHeading, kNamed, kParagraph, kBullet } kind;
    std::string name;
    std::string text;
    double left_at_right = 0;
  };
  static TextStyle StyleOf(const Block& block);
  static double TextX(const Block& block, const Rect& body);
  static double TextWidth(const Block& block, const Rect& body);
  static double Height(Canvas& canvas, const Block& block, const Rect& body);
  static void Draw(Canvas& canvas, const Block& block, const Rect& body, double y);
  static void DrawPage(Canvas& canvas, const Rect& body, const std::string& heading,
                       const std::vector<Block>& blocks, const Aside& aside);
  void Add(Block::Kind kind, std::string name, std::string text);

  std::string heading_;
  std::vector<Block> blocks_;
  double left_at_right_ = 0;
  Aside aside_;
};

}  // namespace debossier::report
