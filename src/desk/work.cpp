#include "desk/work.h"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <system_error>

#include "base/files.h"
#include "base/unicode.h"
#include "batch/csv.h"
#include "batch/plan.h"

namespace debossier::desk {

namespace fs = std::filesystem;

namespace {

constexpr std::size_t kLongestStem = 60;    // bytes
constexpr std::size_t kLongestLabel = 200;  // bytes
constexpr std::uint64_t kLargestManifest = 16u << 20;

Unexpected NotWritable(const fs::path& path, const std::string& why) {
  return Refuse(ErrorCode::kOutputNotWritable, "desk", path.string(), why,
                "name a folder that you may write to");
}

/// The part of a stranger's name that is safe in a path: letters, figures and a known extension.
std::string SafeName(const std::string& received_as) {
  const fs::path name = fs::path(received_as).filename();
  std::string safe;
  for (const char c : name.stem().string()) {
    const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                       c == '-' || c == '_';
    if (safe.size() < kLongestStem && (plain || (!safe.empty() && safe.back() != '_'))) {
      safe += plain ? c : '_';
    }
  }
  std::string extension = name.extension().string();
  std::transform(extension.begin(), extension.end(), extension.begin(),
                 [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; });
  const char* known[] = {".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".heic", ".heif"};
  const bool is_known = std::find(std::begin(known), std::end(known), extension) != std::end(known);
  return (safe.empty() ? "photo" : safe) + (is_known ? extension : ".img");
}

/// As received: without the number that Add() puts before it.
std::string WithoutNumber(const std::string& name) {
  const auto dash = name.find('-');
  return dash == std::string::npos ? name : name.substr(dash + 1);
}

}  // namespace

Work::Work(fs::path folder, refset::Library library, batch::BatchOptions options, FileLock lock)
    : folder_(std::move(folder)),
      library_(std::move(library)),
      options_(std::move(options)),
      lock_(std::move(lock)) {}

Result<std::unique_ptr<Work>> Work::Open(const fs::path& folder, const refset::Library& library,
                                         const batch::BatchOptions& options) {
  if (auto checked = options.Check(); !checked) return PassOn(checked);
  std::error_code error;
  fs::create_directories(folder / "photos", error);
  if (error) return NotWritable(folder, "cannot be made: " + error.message());
  FileLock lock = FileLock::OnFile(folder / ".desk.lock");
  if (lock.fd() < 0) {
    return NotWritable(
        folder,
        "cannot be written: " + std::error_code(lock.error(), std::generic_category()).message());
  }
  if (!lock.Try()) return NotWritable(folder, "is in use by another desk");
  std::unique_ptr<Work> work(new Work(folder, library, options, std::move(lock)));
  if (auto loaded = work->Load(); !loaded) return PassOn(loaded);
  work->thread_ = std::thread([raw = work.get()] { raw->Go(); });
  return work;
}

Work::~Work() {
  stop_ = true;
  {
    const std::lock_guard lock(mutex_);
    ends_ = true;
    changed_.notify_all();
  }
  if (thread_.joinable()) thread_.join();
}

Result<std::monostate> Work::Load() {
  const fs::path manifest = folder_ / "manifest.csv";
  std::error_code error;
  if (!fs::exists(manifest, error)) return std::monostate{};
  auto text = LoadFile(manifest, kLargestManifest, "desk");
  if (!text) return PassOn(text);
  batch::PlanOptions options;
  options.photos_are_there = false;
  auto plan = batch::PlanFromManifest(*text, manifest.string(), folder_ / "photos", options);
  if (!plan) return PassOn(plan);
  auto sets = batch::LoadSets(library_, *plan);
  if (!sets) return PassOn(sets);
  sets_ = *std::move(sets);
  for (batch::Entry& entry : plan->entries) {
    by_output_name_.emplace(entry.output_name, photos_.size());
    photos_.push_back({entry, WithoutNumber(entry.name), std::nullopt});
  }
  return std::monostate{};
}

Result<std::monostate> Work::WriteManifest() const {
  std::string text = batch::CsvLine({"photo", "item", "set"});
  for (const WorkPhoto& p : photos_) {
    text += batch::CsvLine({p.entry.name, p.entry.item, p.entry.set});
  }
  return WriteFileWhole(folder_ / "manifest.csv", text, IfExists::kReplace, "desk");
}

Result<std::monostate> Work::Add(const std::string& received_as, const std::string& bytes,
                                 const std::string& set, const std::string& item) {
  if (item.size() > kLongestLabel) {
    return Refuse(ErrorCode::kUsage, "desk", "item", "has a name that is too long",
                  "give at most 200 bytes");
  }
  const std::lock_guard lock(mutex_);
  if (photos_.size() >= kMostPhotos) {
    return Refuse(ErrorCode::kOverLimit, "desk", folder_.string(),
                  fmt::format("holds {} photos already", photos_.size()),
                  "begin another work folder");
  }
  if (!sets_.contains(set)) {
    auto loaded = refset::LoadSet(library_, set);
    if (!loaded) return PassOn(loaded);
    sets_.emplace(set, batch::WithFingerprint(*std::move(loaded)));
  }
  WorkPhoto photo;
  photo.entry.name = fmt::format("{:04d}-{}", photos_.size() + 1, SafeName(received_as));
  photo.entry.path = folder_ / "photos" / photo.entry.name;
  photo.entry.set = set;
  photo.entry.item = OneLine(item);
  photo.entry.output_name = batch::OutputName(photo.entry);
  photo.received_as = WithoutNumber(photo.entry.name);
  // The photo first: a manifest never names one that is not there.
  auto written = WriteFileWhole(photo.entry.path, bytes, IfExists::kReplace, "desk");
  if (!written) return PassOn(written);
  by_output_name_.emplace(photo.entry.output_name, photos_.size());
  photos_.push_back(std::move(photo));
  if (written = WriteManifest(); !written) {
    by_output_name_.erase(photos_.back().entry.output_name);
    photos_.pop_back();
    return PassOn(written);
  }
  Changed();
  return std::monostate{};
}

void Work::Changed() {
  ++version_;
  changed_.notify_all();
}

void Work::Pause() {
  stop_ = true;
  const std::lock_guard lock(mutex_);
  Changed();
}

void Work::Resume() {
  stop_ = false;
  const std::lock_guard lock(mutex_);
  trouble_.clear();
  Changed();
}

void Work::Run(const batch::Plan& plan, bool overview) {
  batch::BatchOptions options = options_;
  options.overview = overview;
  batch::Sets sets;
  {
    const std::lock_guard lock(mutex_);
    sets = sets_;
  }
  const auto on_step = [this](const batch::Step& step) {
    const std::lock_guard lock(mutex_);
    const auto at = by_output_name_.find(step.entry.output_name);
    if (at != by_output_name_.end()) photos_[at->second].record = step.record;
    Changed();
  };
  const auto tally = batch::RunBatch(plan, sets, results(), options, stop_, on_step);
  if (tally) return;
  const std::lock_guard lock(mutex_);
  trouble_ = tally.error().ToString();
  Changed();
}

void Work::Go() {
  while (true) {
    batch::Plan plan;
    bool is_overview = false;
    {
      std::unique_lock lock(mutex_);
      const auto waits = [](const WorkPhoto& p) { return !p.record; };
      changed_.wait(lock, [&] {
        if (ends_) return true;
        if (stop_ || !trouble_.empty()) return false;
        return overview_is_due_ || std::any_of(photos_.begin(), photos_.end(), waits);
      });
      if (ends_) return;
      for (const WorkPhoto& p : photos_) {
        if (!p.record) plan.entries.push_back(p.entry);
      }
      // Only what is new, so that a photo costs the same however many there are; the overview of
      // all of them follows when nothing waits.
      is_overview = plan.entries.empty();
      if (is_overview) {
        for (const WorkPhoto& p : photos_) plan.entries.push_back(p.entry);
      }
      overview_is_due_ = !is_overview;
    }
    Run(plan, is_overview);
  }
}

std::vector<WorkPhoto> Work::Photos() const {
  const std::lock_guard lock(mutex_);
  return photos_;
}

std::size_t Work::count() const {
  const std::lock_guard lock(mutex_);
  return photos_.size();
}

std::string Work::trouble() const {
  const std::lock_guard lock(mutex_);
  return trouble_;
}

std::uint64_t Work::version() const {
  const std::lock_guard lock(mutex_);
  return version_;
}

std::uint64_t Work::WaitBeyond(std::uint64_t seen) const {
  std::unique_lock lock(mutex_);
  changed_.wait_for(lock, std::chrono::seconds(2), [&] { return ends_ || version_ > seen; });
  return version_;
}

}  // namespace debossier::desk
