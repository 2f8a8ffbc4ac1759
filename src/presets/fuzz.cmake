# cmake -C src/presets/fuzz.cmake -S . -B build/fuzz -G Ninja
set(CMAKE_CXX_COMPILER clang++ CACHE STRING "" FORCE)
set(CMAKE_BUILD_TYPE RelWithDebInfo CACHE STRING "" FORCE)
set(DEBOSSIER_SANITIZE address,undefined,fuzzer-no-link CACHE STRING "" FORCE)
set(DEBOSSIER_FUZZ ON CACHE BOOL "" FORCE)
