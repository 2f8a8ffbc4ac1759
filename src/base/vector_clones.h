// DEBOSSIER_VECTOR_CLONES before a function: also compiled for AVX2, chosen when the program loads.
//
// For plain loops over rows of pixels. Without fused multiply-add and without reordered sums the
// results are the same bits on every machine.
// Not for: functions whose loops do not vectorise, or that live in headers.
#pragma once

// Sanitizers instrument the resolvers, which run before their run time is set up.
#if defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__linux__) && \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__) &&                       \
    !defined(DEBOSSIER_SANITIZE)
#define DEBOSSIER_VECTOR_CLONES __attribute__((target_clones("avx2", "default")))
#else
#define DEBOSSIER_VECTOR_CLONES
#endif
