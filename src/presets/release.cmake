# cmake -C src/presets/release.cmake -S . -B build/release -G Ninja
set(CMAKE_BUILD_TYPE Release CACHE STRING "" FORCE)
set(DEBOSSIER_BENCHMARKS ON CACHE BOOL "" FORCE)
