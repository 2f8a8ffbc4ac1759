#include "trace/contour.h"

#include <algorithm>
#include <unordered_map>

namespace debossier::trace {

namespace {

/// The field with a border of zeros, read by cell corner.
class Padded {
 public:
  explicit Padded(const cv::Mat& field) : field_(field) {}
  float At(int x, int y) const {
    if (x < 0 || y < 0 || x >= field_.cols || y >= field_.rows) return 0;
    return field_.ptr<float>(y)[x];
  }
  int cols() const { return field_.cols; }
  int rows() const { return field_.rows; }

 private:
  const cv::Mat& field_;
};

/// A crossing on a grid edge: horizontal (x to x + 1) or vertical (y to y + 1).
using EdgeKey = std::int64_t;

EdgeKey Key(int x, int y, bool vertical, int cols) {
  return ((static_cast<std::int64_t>(y) + 1) * (cols + 2) + (x + 1)) * 2 + (vertical ? 1 : 0);
}

class Tracer {
 public:
  Tracer(const cv::Mat& field, float level) : field_(field), level_(level) {}

  std::vector<outline::Polyline> Run() {
    for (int y = -1; y < field_.rows(); ++y) {
      for (int x = -1; x < field_.cols(); ++x) AddCell(x, y);
    }
    return Join();
  }

 private:
  bool High(int x, int y) const { return field_.At(x, y) >= level_; }

  outline::Point Crossing(int x0, int y0, int x1, int y1) const {
    const double a = field_.At(x0, y0);
    const double b = field_.At(x1, y1);
    const double t = (level_ - a) / (b - a);
    return {x0 + t * (x1 - x0), y0 + t * (y1 - y0)};
  }

  // The four edges of the cell at (x, y): top, right, bottom, left.
  EdgeKey EdgeOf(int x, int y, int side) {
    switch (side) {
      case 0:
        return Register(x, y, false, Crossing(x, y, x + 1, y));
      case 1:
        return Register(x + 1, y, true, Crossing(x + 1, y, x + 1, y + 1));
      case 2:
        return Register(x, y + 1, false, Crossing(x, y + 1, x + 1, y + 1));
      default:
        return Register(x, y, true, Crossing(x, y, x, y + 1));
    }
  }

  EdgeKey Register(int x, int y, bool vertical, const outline::Point& p) {
    const EdgeKey key = Key(x, y, vertical, field_.cols());
    points_.emplace(key, p);
    return key;
  }

  /// Adds a piece so that the high side is on the right of the travel in the y-down frame.
  void Link(int x, int y, int from, int to) { next_[EdgeOf(x, y, from)] = EdgeOf(x, y, to); }

  void AddCell(int x, int y) {
    const int code = (High(x, y) ? 1 : 0) | (High(x + 1, y) ? 2 : 0) |
                     (High(x + 1, y + 1) ? 4 : 0) | (High(x, y + 1) ? 8 : 0);
    switch (code) {
      case 0:
      case 15:
        return;
      case 1:
        return Link(x, y, 0, 3);
      case 2:
        return Link(x, y, 1, 0);
      case 3:
        return Link(x, y, 1, 3);
      case 4:
        return Link(x, y, 2, 1);
      case 6:
        return Link(x, y, 2, 0);
      case 7:
        return Link(x, y, 2, 3);
      case 8:
        return Link(x, y, 3, 2);
      case 9:
        return Link(x, y, 0, 2);
      case 11:
        return Link(x, y, 1, 2);
      case 12:
        return Link(x, y, 3, 1);
      case 13:
        return Link(x, y, 0, 1);
      case 14:
        return Link(x, y, 3, 0);
      default:
        break;
    }
    const float mean =
        (field_.At(x, y) + field_.At(x + 1, y) + field_.At(x, y + 1) + field_.At(x + 1, y + 1)) / 4;
    const bool joined = mean >= level_;
    if (code == 5) {  // high: top left and bottom right
      Link(x, y, 0, joined ? 1 : 3);
      Link(x, y, 2, joined ? 3 : 1);
    } else {  // 10: high: top right and bottom left
      Link(x, y, 1, joined ? 2 : 0);
      Link(x, y, 3, joined ? 0 : 2);
    }
  }

  std::vector<outline::Polyline> Join() {
    std::vector<EdgeKey> keys;
    keys.reserve(next_.size());
    for (const auto& [from, to] : next_) keys.push_back(from);
    std::sort(keys.begin(), keys.end());
    std::vector<outline::Polyline> contours;
    for (const EdgeKey start : keys) {
      auto it = next_.find(start);
      if (it == next_.end()) continue;
      outline::Polyline line;
      while (it != next_.end()) {
        line.push_back(points_.at(it->first));
        const EdgeKey to = it->second;
        next_.erase(it);
        it = next_.find(to);
      }
      if (line.size() >= 3) contours.push_back(std::move(line));
    }
    return contours;
  }

  Padded field_;
  float level_;
  std::unordered_map<EdgeKey, outline::Point> points_;
  std::unordered_map<EdgeKey, EdgeKey> next_;
};

}  // namespace

std::vector<outline::Polyline> TraceContours(const cv::Mat& field, float level) {
  return Tracer(field, level).Run();
}

}  // namespace debossier::trace
