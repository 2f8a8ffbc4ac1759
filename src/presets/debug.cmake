# cmake -C src/presets/debug.cmake -S . -B build/debug -G Ninja
set(CMAKE_BUILD_TYPE Debug CACHE STRING "" FORCE)
