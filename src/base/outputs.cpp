#include "base/outputs.h"

#include <fmt/format.h>

#include <algorithm>
#include <system_error>

namespace debossier {

namespace fs = std::filesystem;

namespace {

/// Without links, as far as the path exists.
fs::path Real(const fs::path& path) {
  std::error_code error;
  fs::path real = fs::weakly_canonical(fs::absolute(path, error), error);
  if (error) return path.lexically_normal();
  return real.has_filename() ? real : real.parent_path();
}

bool AreOne(const fs::path& a, const fs::path& b) {
  std::error_code error;
  return fs::equivalent(a, b, error) || Real(a) == Real(b);
}

}  // namespace

bool LiesIn(const fs::path& path, const fs::path& folder) {
  const fs::path inner = Real(path);
  const fs::path outer = Real(folder);
  return std::mismatch(outer.begin(), outer.end(), inner.begin(), inner.end()).first == outer.end();
}

Result<std::monostate> CheckOutputs(const std::vector<Output>& outputs,
                                    const std::vector<fs::path>& inputs,
                                    const std::vector<fs::path>& kept_folders, IfExists if_exists,
                                    std::string_view stage) {
  const auto refuse = [&](const Output& output, const std::string& what, const char* hint) {
    return Refuse(ErrorCode::kUsage, std::string(stage), output.path.string(),
                  fmt::format("{} {}", output.option, what), hint);
  };
  for (auto output = outputs.begin(); output != outputs.end(); ++output) {
    if (output->path.empty()) continue;
    for (const fs::path& input : inputs) {
      if (!input.empty() && AreOne(output->path, input)) {
        return refuse(*output, "would write over what is read", "name another file");
      }
    }
    for (auto other = outputs.begin(); other != output; ++other) {
      if (!other->path.empty() && AreOne(output->path, other->path)) {
        return refuse(*output, "names the same file as " + other->option, "name another file");
      }
    }
    for (const fs::path& folder : kept_folders) {
      if (LiesIn(output->path, folder)) {
        return refuse(*output, fmt::format("lies in the library ({})", folder.string()),
                      "name a file outside glyphs/ and refsets/");
      }
    }
    auto writable = CheckWritable(output->path, if_exists, stage);
    if (!writable) return writable;
  }
  return std::monostate{};
}

}  // namespace debossier
