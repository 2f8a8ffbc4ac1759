// How far a batch is: what is left is estimated from what was done.
#include "batch/progress.h"

#include <gtest/gtest.h>

namespace debossier::batch {
namespace {

TEST(ProgressTest, TimeLeftCountsOnlyPhotosThatAreLeftToCompare) {
  Progress progress(100, 60);
  const Entry entry;
  Record record;
  record.outcome = Outcome::kCompared;
  for (int i = 0; i < 30; ++i) progress.Add({entry, record, true});
  EXPECT_EQ(progress.Bar(80, 1).find("left"), std::string::npos) << "nothing was compared yet";
  for (int i = 0; i < 2; ++i) progress.Add({entry, record, false});
  // 68 are left, 30 of them done before; 38 at 10 s each.
  EXPECT_NE(progress.Bar(80, 20).find("about 6 min left"), std::string::npos)
      << progress.Bar(80, 20);
  for (int i = 0; i < 30; ++i) progress.Add({entry, record, true});
  EXPECT_NE(progress.Bar(80, 20).find("about 6 min left"), std::string::npos);
  for (int i = 0; i < 36; ++i) progress.Add({entry, record, false});
  EXPECT_NE(progress.Bar(80, 380).find("about 20 s left"), std::string::npos)
      << progress.Bar(80, 380);
}

}  // namespace
}  // namespace debossier::batch
