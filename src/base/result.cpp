#include "base/result.h"

#include <fmt/format.h>

#include <cstdio>
#include <cstdlib>

namespace debossier {

int ExitCode(ErrorCode code) {
  switch (code) {
    case ErrorCode::kUsage:
      return 2;
    case ErrorCode::kFileMissing:
      return 3;
    case ErrorCode::kNotAnImage:
      return 4;
    case ErrorCode::kOverLimit:
      return 5;
    case ErrorCode::kPhotoTooSmall:
      return 6;
    case ErrorCode::kNoStamp:
      return 7;
    case ErrorCode::kLetteringNotFound:
      return 8;
    case ErrorCode::kSetMissing:
      return 9;
    case ErrorCode::kSetUnreadable:
      return 10;
    case ErrorCode::kNewerFormat:
      return 11;
    case ErrorCode::kTextNotCovered:
      return 12;
    case ErrorCode::kOutputNotWritable:
      return 13;
    case ErrorCode::kOutputExists:
      return 14;
    case ErrorCode::kItemsDoNotAgree:
      return 15;
    case ErrorCode::kSetBusy:
      return 16;
    case ErrorCode::kManifestUnsound:
      return 20;
    case ErrorCode::kPhotosLeftOut:
      return 21;
    case ErrorCode::kStopped:
      return 22;
    case ErrorCode::kInternal:
      return 70;
  }
  return 70;
}

namespace {

std::string Escaped(const std::string& text) {
  std::string out;
  for (const char c : text) {
    const auto byte = static_cast<unsigned char>(c);
    if (byte < 0x20 || byte == 0x7f) {
      out += fmt::format("\\x{:02x}", byte);
    } else {
      out += c;
    }
  }
  return out;
}

}  // namespace

std::string Error::ToString() const {
  std::string out = where.empty() ? message : Escaped(where) + ": " + message;
  if (!hint.empty()) out += " (" + hint + ")";
  return out;
}

void AssertionFailed(const char* expression, const char* file, int line) {
  std::fprintf(stderr, "debossier: assertion failed: %s (%s:%d)\n", expression, file, line);
  std::abort();
}

}  // namespace debossier
