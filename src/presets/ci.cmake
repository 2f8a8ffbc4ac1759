# cmake -C src/presets/ci.cmake -S . -B build/ci -G Ninja
set(CMAKE_BUILD_TYPE Release CACHE STRING "" FORCE)
set(DEBOSSIER_BENCHMARKS ON CACHE BOOL "" FORCE)
set(DEBOSSIER_WERROR ON CACHE BOOL "" FORCE)
