#include "batch/dossiers.h"

#include <fmt/format.h>

#include <algorithm>
#include <exception>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <thread>

#include "base/files.h"
#include "results/dossier_json.h"

namespace debossier::batch {

namespace fs = std::filesystem;

namespace {

using Json = nlohmann::ordered_json;

constexpr const char* kFormatName = "debossier-batch-dossier";
constexpr int kFormatVersion = 1;
constexpr std::uint64_t kLargestRecord = 1u << 20;
constexpr std::uint64_t kLargestOutput = 1u << 30;

fs::path FileOf(const OutputFolder& out, const std::string& name, const char* extension) {
  return out.folder / "dossiers" / (name + extension);
}

std::string OutputNameOf(const PlannedItem& item) {
  Entry named;
  named.name = item.name;
  return OutputName(named);
}

std::string RecordJson(const DossierRecord& r) {
  const Json json = {{"format", kFormatName}, {"version", kFormatVersion}, {"key", r.key},
                     {"finding", r.finding},  {"summary", r.summary},      {"paper", r.paper},
                     {"files", r.files}};
  return json.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

/// The record on the disk, where the files it tells of are as they were written.
std::optional<DossierRecord> Load(const OutputFolder& out, const std::string& name) try {
  const auto text = LoadFile(FileOf(out, name, ".record.json"), kLargestRecord, "batch");
  if (!text) return {};
  const Json json = Json::parse(*text);
  if (json.at("format") != kFormatName || json.at("version") != kFormatVersion) return {};
  DossierRecord r;
  r.key = json.at("key");
  r.finding = json.at("finding");
  r.summary = json.at("summary");
  r.paper = json.at("paper");
  r.files = json.at("files");
  r.output_name = name;
  r.reused = true;
  for (const char* extension : {"json", "pdf"}) {
    const auto written = r.files.find(extension);
    const auto bytes =
        LoadFile(FileOf(out, name, fmt::format(".{}", extension).c_str()), kLargestOutput, "batch");
    if (written == r.files.end() || !bytes || Sha256Hex(*bytes) != written->second) return {};
  }
  return r;
} catch (const Json::exception&) {
  return {};
}

/// Makes the dossiers one after the other, on several threads.
class Maker {
 public:
  Maker(const std::vector<PlannedItem>& items, const Sets& sets, const OutputFolder& out,
        const BatchOptions& options, const std::map<const Entry*, std::string>& sha256_of,
        const std::atomic<bool>& stop)
      : items_(items),
        sets_(sets),
        out_(out),
        options_(options),
        sha256_of_(sha256_of),
        stop_(stop) {}

  void Work() {
    while (!stop_ && !broken_) {
      const std::size_t idx = next_++;
      if (idx >= items_.size()) return;
      auto made = MakeSafely(items_[idx]);
      const std::lock_guard lock(mutex_);
      if (made) {
        dossiers_.emplace(items_[idx].name, *std::move(made));
      } else {
        if (!error_) error_ = made.error();
        broken_ = true;
      }
    }
  }
  Result<Dossiers> Take() {
    if (error_) return Unexpected(*error_);
    return std::move(dossiers_);
  }

 private:
  std::string KeyOfItem(const PlannedItem& item, const report::DossierOptions& options) const {
    std::string all = fmt::format("{}\n{}\n", kFormatVersion, item.name);
    for (const Entry* e : item.entries) {
      all += fmt::format("{}\n{}\n{}\n", e->name, e->notes,
                         KeyOf(sha256_of_.at(e), sets_.at(e->set), e->crop, options.examine.compare,
                               options.examine.pdf.fields));
    }
    return Sha256Hex(all);
  }

  /// A library that throws costs one dossier, not the batch.
  Result<DossierRecord> MakeSafely(const PlannedItem& item) const {
    DossierRecord none;
    try {
      return Make(item);
    } catch (const std::bad_alloc&) {
      none.why_not = "there was not enough memory for its photos";
    } catch (const std::exception& e) {
      none.why_not = fmt::format("internal error: {}", e.what());
    }
    return none;
  }

  Result<DossierRecord> Make(const PlannedItem& item) const {
    report::DossierOptions options;
    options.examine = options_.examine;
    options.examine.pdf.fields.item = item.name;
    const std::string name = OutputNameOf(item), key = KeyOfItem(item, options);
    const std::string paper = Name(options.examine.pdf.paper);
    if (auto known = Load(out_, name); known && known->key == key && known->paper == paper) {
      return *std::move(known);
    }
    // The record first: what a kill leaves here is made again.
    std::error_code ignored;
    for (const char* extension : {".record.json", ".json", ".pdf"}) {
      fs::remove(FileOf(out_, name, extension), ignored);
    }
    DossierRecord record;
    std::vector<report::DossierPhoto> photos;
    for (const Entry* e : item.entries) {
      photos.push_back(ReadForDossier(*e, sets_.at(e->set).set));
    }
    auto compared = report::ExamineItem(photos, options);
    if (!compared) {
      record.why_not = fmt::format("{} ({})", compared.error().message, compared.error().hint);
      return record;
    }
    if (std::none_of(compared->photos.begin(), compared->photos.end(),
                     [](const auto& p) { return p.comparison.has_value(); })) {
      record.why_not = "none of its photos could be compared";
      return record;
    }
    auto pdf = report::DossierPdf(*compared, photos, options);
    if (!pdf) return PassOn(pdf);
    const std::string json = report::DossierJson(*compared, options.observations);
    record.key = key;
    record.paper = paper;
    record.output_name = name;
    record.finding = compare::Name(compared->finding);
    record.summary = compared->summary;
    record.files = {{"json", Sha256Hex(json)}, {"pdf", Sha256Hex(*pdf)}};
    const std::vector<FileToWrite> files = {{FileOf(out_, name, ".json"), json},
                                            {FileOf(out_, name, ".pdf"), *pdf}};
    if (auto written = WriteFilesWhole(files, IfExists::kReplace, "batch"); !written) {
      return PassOn(written);
    }
    auto written = WriteFileWhole(FileOf(out_, name, ".record.json"), RecordJson(record),
                                  IfExists::kReplace, "batch");
    if (!written) return PassOn(written);
    return record;
  }

  const std::vector<PlannedItem>& items_;
  const Sets& sets_;
  const OutputFolder& out_;
  const BatchOptions& options_;
  const std::map<const Entry*, std::string>& sha256_of_;
  const std::atomic<bool>& stop_;
  std::atomic<std::size_t> next_{0};
  std::atomic<bool> broken_{false};
  std::mutex mutex_;
  std::optional<Error> error_;
  Dossiers dossiers_;
};

}  // namespace

std::vector<PlannedItem> ItemsOf(const Plan& plan) {
  std::vector<PlannedItem> items;
  std::map<std::string, std::size_t> by_name;
  for (const Entry& entry : plan.entries) {
    if (entry.item.empty()) continue;
    const auto [at, is_new] = by_name.emplace(entry.item, items.size());
    if (is_new) items.push_back({entry.item, {}});
    items[at->second].entries.push_back(&entry);
  }
  return items;
}

report::DossierPhoto ReadForDossier(const Entry& entry, const refset::RefSet& set) {
  report::DossierPhoto photo;
  photo.name = entry.name;
  photo.set = &set;
  photo.notes = entry.notes;
  if (!entry.crop.empty()) {
    const auto crop = ParseCrop(entry.crop);
    if (crop) {
      photo.crop = *crop;
    } else {
      photo.unreadable = crop.error();
    }
  }
  auto bytes = LoadFile(entry.path, image::LoadOptions{}.max_file_bytes, "image");
  if (bytes) {
    photo.bytes = *std::move(bytes);
  } else {
    photo.unreadable = bytes.error();
  }
  return photo;
}

std::vector<fs::path> FilesOfDossier(const OutputFolder& out, const PlannedItem& item) {
  const std::string name = OutputNameOf(item);
  return {FileOf(out, name, ".record.json"), FileOf(out, name, ".json"), FileOf(out, name, ".pdf")};
}

Result<Dossiers> MakeDossiers(const Plan& plan, const Sets& sets, const OutputFolder& out,
                              const BatchOptions& options,
                              const std::map<const Entry*, std::string>& sha256_of,
                              const std::atomic<bool>& stop) {
  std::vector<PlannedItem> items = ItemsOf(plan);
  std::erase_if(items, [&](const PlannedItem& item) {
    return !std::all_of(item.entries.begin(), item.entries.end(),
                        [&](const Entry* e) { return sha256_of.contains(e); });
  });
  Maker maker(items, sets, out, options, sha256_of, stop);
  {
    std::vector<std::jthread> workers;
    const std::size_t count = std::min<std::size_t>(options.jobs, items.size());
    for (std::size_t i = 0; i < count; ++i) workers.emplace_back([&maker] { maker.Work(); });
  }
  return maker.Take();
}

}  // namespace debossier::batch
