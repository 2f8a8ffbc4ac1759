// One photo against one set, through the installed library: LIBRARY SET PHOTO.
#include <iostream>

#include "compare/compare_photo.h"

int main(int argc, char** argv) {
  using namespace debossier;
  if (argc != 4) return 2;
  const auto set = refset::LoadSet({argv[1]}, argv[2]);
  const auto photo = image::LoadPhoto(argv[3]);
  if (!set || !photo) return 1;
  const auto compared = compare::ComparePhoto(*photo, *set, {});
  if (!compared) return 1;
  std::cout << compare::Name(compared->finding) << ": " << compared->summary << "\n";
}
