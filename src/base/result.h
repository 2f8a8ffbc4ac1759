// Refusals as values: Result<T> holds a value or an Error that names the stage, the place and
// the mend.
//
// The world can be wrong (a photo is truncated, a set is missing): return an Error.
// We can be wrong (an index out of range): DEBOSSIER_ASSERT, on in every build.
// Not for: control flow inside one function.
#pragma once

#include <string>
#include <tl/expected.hpp>
#include <utility>
#include <vector>

namespace debossier {

/// What went wrong. Each code has its own exit code of the program; see ExitCode().
enum class ErrorCode {
  kUsage,              ///< An option or argument is wrong.
  kFileMissing,        ///< A photo or font does not exist or cannot be opened.
  kNotAnImage,         ///< Empty, not an image, an unsupported kind, truncated or damaged.
  kOverLimit,          ///< More bytes or pixels than the program accepts.
  kPhotoTooSmall,      ///< The lettering is too small in the photo to be measured.
  kNoStamp,            ///< Nothing in the photo looks like stamped lettering.
  kLetteringNotFound,  ///< Lettering there may be, but not the one asked for.
  kSetMissing,         ///< No such reference set in the library.
  kSetUnreadable,      ///< The set or its outlines cannot be read or do not hold together.
  kNewerFormat,        ///< Written by a newer version of the program.
  kTextNotCovered,     ///< The set, alphabet or font lacks a character of the text.
  kOutputNotWritable,  ///< The output folder cannot be written.
  kOutputExists,       ///< An output of that name exists already.
  kItemsDoNotAgree,    ///< The photos given for one set do not show the same lettering.
  kSetBusy,            ///< Somebody else is changing the set.
  kManifestUnsound,    ///< The manifest has mistakes; the message names their lines.
  kPhotosLeftOut,      ///< The batch ended, but some photos were refused or failed.
  kStopped,            ///< The batch was stopped; what is done is kept.
  kInternal,           ///< A library failed in a way that should not happen.
};

/// The program's exit code for `code`; the table in README.md lists them.
int ExitCode(ErrorCode code);

/// A refusal that a person can act on.
struct Error {
  ErrorCode code = ErrorCode::kInternal;
  std::string stage;    ///< Layer that refused, e.g. "image".
  std::string where;    ///< File, set or element concerned; empty where not known yet.
  std::string message;  ///< What is wrong, one sentence without a final stop.
  std::string hint;     ///< What to do about it, one sentence without a final stop.

  /// `where: message (hint)` on one line; control characters in `where` are escaped.
  std::string ToString() const;
};

/// A value or an Error. Shaped like std::expected.
template <class T>
class [[nodiscard]] Result : public tl::expected<T, Error> {
 public:
  using tl::expected<T, Error>::expected;
};

using Unexpected = tl::unexpected<Error>;

/// Builds a refusal to return from a function that yields a Result.
inline Unexpected Refuse(ErrorCode code, std::string stage, std::string where, std::string message,
                         std::string hint) {
  return Unexpected(
      Error{code, std::move(stage), std::move(where), std::move(message), std::move(hint)});
}

/// Passes on the error of another Result.
template <class T>
Unexpected PassOn(const Result<T>& failed) {
  return Unexpected(failed.error());
}

/// A part was dropped, the whole goes on. Collected in results, never printed by the library.
struct Warning {
  std::string stage;
  std::string where;
  std::string message;
};

[[noreturn]] void AssertionFailed(const char* expression, const char* file, int line);

}  // namespace debossier

#define DEBOSSIER_ASSERT(condition)   \
  ((condition) ? static_cast<void>(0) \
               : ::debossier::AssertionFailed(#condition, __FILE__, __LINE__))
