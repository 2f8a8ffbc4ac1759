# cmake -C src/presets/sanitize.cmake -S . -B build/sanitize -G Ninja
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "" FORCE)
set(DEBOSSIER_SANITIZE address,undefined CACHE STRING "" FORCE)
