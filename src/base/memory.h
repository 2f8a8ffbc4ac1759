// How the process deals with memory that was freed.
#pragma once

#if defined(__GLIBC__)
#include <malloc.h>
#endif

namespace debossier {

/// Keeps what is freed for the next picture instead of handing it back and asking anew: maps of a
/// megabyte come and go, and fresh pages cost a tenth of a comparison. For programs, at their
/// start.
inline void KeepFreedMemory() {
#if defined(__GLIBC__)
  mallopt(M_MMAP_THRESHOLD, 32 << 20);
  mallopt(M_TRIM_THRESHOLD, 256 << 20);
  mallopt(M_TOP_PAD, 16 << 20);
#endif
}

}  // namespace debossier
