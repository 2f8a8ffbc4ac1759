# cmake -C src/presets/sanitize.cmake -S . -B build/sanitize -G Ninja
set(CMAKE_C_COMPILER clang CACHE STRING "" FORCE)
set(CMAKE_CXX_COMPILER clang++ CACHE STRING "" FORCE)
set(CMAKE_BUILD_TYPE Release CACHE STRING "" FORCE)
set(CMAKE_CXX_FLAGS_RELEASE "-O1 -gline-tables-only" CACHE STRING "" FORCE)
set(DEBOSSIER_WERROR ON CACHE BOOL "" FORCE)
set(DEBOSSIER_SANITIZE address,undefined CACHE STRING "" FORCE)
