#include "reading/components.h"

#include <algorithm>
#include <opencv2/imgproc.hpp>

namespace debossier::reading {

namespace {

struct Sums {
  double x = 0, y = 0, xx = 0, xy = 0, yy = 0;
};

std::vector<Sums> AccumulateMoments(const cv::Mat& labels, int count) {
  std::vector<Sums> sums(static_cast<std::size_t>(count));
  for (int y = 0; y < labels.rows; ++y) {
    const int* row = labels.ptr<int>(y);
    for (int x = 0; x < labels.cols;) {
      const int label = row[x];
      if (label == 0) {
        ++x;
        continue;
      }
      // A run of one label at a time: sums of x and x^2 in closed form.
      int end = x + 1;
      while (end < labels.cols && row[end] == label) ++end;
      const double n = end - x;
      const double a = x;
      const double b = end - 1;
      const double sx = (a + b) * n / 2;
      const double below = a > 0 ? (a - 1) * a * (2 * a - 1) / 6 : 0;
      const double sxx = b * (b + 1) * (2 * b + 1) / 6 - below;
      Sums& s = sums[static_cast<std::size_t>(label)];
      s.x += sx;
      s.y += n * y;
      s.xx += sxx;
      s.xy += sx * y;
      s.yy += n * y * static_cast<double>(y);
      x = end;
    }
  }
  return sums;
}

}  // namespace

std::vector<Component> FindComponents(const cv::Mat& mask, const ComponentOptions& options,
                                      cv::Mat* labels) {
  cv::Mat label_image;
  cv::Mat stats;
  cv::Mat centroids;
  const int count =
      cv::connectedComponentsWithStats(mask, label_image, stats, centroids, 8, CV_32S);
  const auto sums = AccumulateMoments(label_image, count);
  std::vector<Component> found;
  for (int label = 1; label < count; ++label) {
    Component c;
    c.label = label;
    c.area = stats.at<int>(label, cv::CC_STAT_AREA);
    c.box =
        cv::Rect(stats.at<int>(label, cv::CC_STAT_LEFT), stats.at<int>(label, cv::CC_STAT_TOP),
                 stats.at<int>(label, cv::CC_STAT_WIDTH), stats.at<int>(label, cv::CC_STAT_HEIGHT));
    if (c.area < options.min_area) continue;
    if (c.box.width > options.max_side_share * mask.cols &&
        c.box.height > options.max_side_share * mask.rows) {
      continue;
    }
    const Sums& s = sums[static_cast<std::size_t>(label)];
    c.centroid = {s.x / c.area, s.y / c.area};
    const double xy = s.xy / c.area - c.centroid.x() * c.centroid.y();
    c.covariance << s.xx / c.area - c.centroid.x() * c.centroid.x() + 1.0 / 12, xy, xy,
        s.yy / c.area - c.centroid.y() * c.centroid.y() + 1.0 / 12;
    found.push_back(c);
  }
  if (static_cast<int>(found.size()) > options.max_components) {
    std::stable_sort(found.begin(), found.end(),
                     [](const Component& a, const Component& b) { return a.area > b.area; });
    found.resize(static_cast<std::size_t>(options.max_components));
    std::sort(found.begin(), found.end(),
              [](const Component& a, const Component& b) { return a.label < b.label; });
  }
  if (labels != nullptr) *labels = label_image;
  return found;
}

}  // namespace debossier::reading
