// A reference set from clean simulated photos of a die of the accuracy program, for tests that need
// photographs and not only drawings.
#pragma once

#include <gtest/gtest.h>

#include <utility>
#include <vector>

#include "accuracy/dies.h"
#include "refset/create.h"

namespace debossier::test {

inline refset::RefSet SetOf(const accuracy::DiePlan& plan,
                            const std::vector<image::Photo>& verified) {
  reading::TextSpec text;
  text.lines = {{"wordmark", plan.wordmark}, {"origin", plan.origin}};
  text.mark = plan.mark;
  refset::CreateOptions create;
  create.id = "trial";
  auto made = refset::CreateFromPhotos(verified, text, create);
  EXPECT_TRUE(made) << made.error().ToString();
  return made ? std::move(made->set) : refset::RefSet();
}

}  // namespace debossier::test
