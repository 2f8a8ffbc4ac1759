// The page `index.html`: a table that stands without script, made sortable where there is script.
#include <fmt/format.h>

#include <cmath>

#include "base/files.h"
#include "base/text_forms.h"
#include "base/version.h"
#include "batch/overview.h"

namespace debossier::batch {

namespace {

constexpr std::string_view kStyle =
#include "batch/index.css.inc"
    ;
constexpr std::string_view kScript =
#include "batch/index.js.inc"
    ;

// One photo beside a verified item; filled by the script, never shown without it.
constexpr std::string_view kDetail =
    R"(<dialog id="detail" aria-labelledby="detail-title"><h2 id="detail-title"></h2>
<p id="detail-finding"></p><img id="detail-picture" alt="No photo chosen"><p id="detail-why"></p>
<p id="detail-files"></p><p class="buttons"><button type="button" id="detail-previous">Previous photo
</button> <button type="button" id="detail-next">Next photo</button>
<button type="button" id="detail-close">Close</button> <span id="detail-place" class="quiet"></span>
</p></dialog>
)";

struct Kind {
  const char* id;     ///< In data attributes and class names.
  const char* words;  ///< For people.
  const char* sign;   ///< The same without colour, as in the report.
};
constexpr Kind kKinds[] = {{"departs", "Departs", "≠"},
                           {"no-departure-found", "No departure found", "="},
                           {"cannot-tell", "Cannot tell", "?"},
                           {"refused", "Refused", "×"},
                           {"failed", "Failed", "!"},
                           {"not-done", "Not done yet", "…"},
                           {"not-compared", "Not compared", "×"}};

const Kind& KindOf(const std::string& id) {
  for (const Kind& kind : kKinds) {
    if (id == kind.id) return kind;
  }
  DEBOSSIER_ASSERT(!"a kind outside its list");
}

std::string KindId(const Record& r) {
  return r.outcome == Outcome::kCompared ? compare::Name(r.finding) : Name(r.outcome);
}

std::string Badge(const Kind& kind) {
  return fmt::format(
      R"(<span class="finding {}"><span class="sign" aria-hidden="true">{}</span> {}</span>)",
      kind.id, kind.sign, kind.words);
}

std::string Cell(const char* label, const std::string& content, const char* more = "") {
  return fmt::format(R"(<td role="cell" data-label="{}"{}>{}</td>)", label, more, content);
}

// "<th>" of a column that can be sorted: `kind` is how its cells compare.
std::string Head(const char* words, const char* kind) {
  if (*kind == '\0') return fmt::format(R"(<th role="columnheader" scope="col">{}</th>)", words);
  return fmt::format(R"(<th role="columnheader" scope="col" data-sort="{}">{}</th>)", kind, words);
}

// "1 in 200", or percent where that is no round number.
std::string RateInWords(double rate) {
  const double one_in = 1 / rate;
  if (std::abs(one_in - std::round(one_in)) < 1e-6) return fmt::format("1 in {:.0f}", one_in);
  return fmt::format("{:g} %", 100 * rate);
}

std::string Option(const std::string& value, const std::string& words) {
  return fmt::format(R"(<option value="{}">{}</option>)", HtmlText(value), HtmlText(words));
}

// Messages begin small, to follow the file's name and a colon.
std::string AsSentence(const std::string& message) {
  for (const char* verb : {"is ", "has ", "cannot ", "could ", "does "}) {
    if (message.starts_with(verb)) return "The photo " + message;
  }
  std::string sentence = message;
  if (!sentence.empty() && sentence[0] >= 'a' && sentence[0] <= 'z') sentence[0] -= 'a' - 'A';
  return sentence;
}

std::string Why(const Record& r) {
  if (r.outcome == Outcome::kNotDone) return "The run was stopped before this photo.";
  if (r.outcome != Outcome::kCompared) {
    const std::string mend =
        r.hint.empty() ? "" : fmt::format("<br>Mend: {}", HtmlText(AsSentence(r.hint)));
    return HtmlText(AsSentence(r.message)) + mend;
  }
  std::string why = HtmlText(r.reason.empty() ? r.summary : r.reason);
  if (r.finding == compare::Finding::kCannotTell) {
    why = HtmlText(r.summary);
    if (!r.reason.empty() && r.reason != r.summary) why += fmt::format(" {}", HtmlText(r.reason));
  }
  if (!r.advice.empty()) why += fmt::format("<br>Advice: {}", HtmlText(r.advice));
  return why;
}

}  // namespace

void Overview::AddRow(const Entry& entry, const Record& r, bool is_new) {
  const Kind& kind = KindOf(KindId(r));
  const std::string name = HtmlText(entry.name);
  const bool compared = r.outcome == Outcome::kCompared;
  const bool pdf = compared && !r.pdf.empty() && report::WantsPdf(options_.pdf_policy, r.finding);
  const std::string pdf_file = fmt::format("pdf/{}.pdf", entry.output_name);
  const std::string json_file = fmt::format("json/{}.json", entry.output_name);
  std::string picture = R"(<span class="quiet">no picture</span>)";
  if (r.thumbnail) {
    picture = fmt::format(R"(<img src="thumbnails/{}.svg" alt="{} of {}" loading="lazy">)",
                          entry.output_name, compared ? "Lettering with outlines" : "Photo", name);
    if (pdf) picture = fmt::format(R"(<a href="{}">{}</a>)", pdf_file, picture);
  }
  if (compared && r.pair) {
    picture += fmt::format(
        R"(<a class="pair" href="pairs/{}.svg" aria-label="{} beside a verified item">Side by side</a>)",
        entry.output_name, name);
  }
  std::string photo = name;
  if (compared) photo = fmt::format(R"(<a href="{}">{}</a>)", pdf ? pdf_file : json_file, name);
  if (is_new) photo += R"( <span class="new">new</span>)";
  if (!entry.crop.empty()) {
    photo += fmt::format(R"(<br><span class="quiet">crop {}</span>)", HtmlText(entry.crop));
  }
  if (!entry.notes.empty()) {
    photo += fmt::format(R"(<br><span class="quiet">{}</span>)", HtmlText(entry.notes));
  }
  std::string largest = R"(<span class="quiet">–</span>)";
  if (compared && r.finding == compare::Finding::kDeparts) {
    largest = R"(<span class="quiet">not a length</span>)";
  }
  if (r.largest) {
    largest = fmt::format(R"({:.1f} %<br><span class="quiet">{}</span>)", *r.largest,
                          HtmlText(r.largest_measure));
  }
  std::string files = R"(<span class="quiet">none</span>)";
  if (compared) {
    files = fmt::format(R"(<a href="{}" aria-label="JSON result of {}">JSON</a>)", json_file, name);
    if (pdf) {
      files =
          fmt::format(R"(<a href="{}" aria-label="PDF report of {}">PDF</a> )", pdf_file, name) +
          files;
    }
  }
  rows_ +=
      fmt::format(R"(<tr role="row" data-finding="{}" data-set="{}" data-largest="{}"{}>)", kind.id,
                  HtmlText(entry.set), r.largest ? fmt::format("{:.3f}", *r.largest) : "",
                  is_new ? " data-new" : "");
  rows_ += Cell("Picture", picture, R"( class="picture")");
  rows_ += Cell("Photo", photo, R"( class="name")");
  rows_ += Cell("Item", HtmlText(entry.item), R"( class="name")");
  rows_ += Cell("Set", HtmlText(entry.set));
  rows_ += Cell("Finding", Badge(kind));
  rows_ += Cell("Largest departure", largest, R"( class="number")");
  rows_ += Cell("Why", Why(r), R"( class="why")");
  rows_ += Cell("Files", files);
  rows_ += "</tr>\n";
}

// "2 photos (departs: 1, not compared: 1)".
std::string PhotosOf(const ItemSummary& item) {
  std::string photos = fmt::format("{} photo{}", item.photos, item.photos == 1 ? "" : "s");
  const std::pair<std::size_t, const char*> parts[] = {
      {item.departs, "departs"},
      {item.no_departure_found, "no departure found"},
      {item.cannot_tell, "cannot tell"},
      {item.left_out, "not compared"}};
  const char* join = " (";
  for (const auto& [count, words] : parts) {
    if (count == 0) continue;
    photos += fmt::format("{}{}: {}", join, words, count);
    join = ", ";
  }
  return photos + ")";
}

std::string Overview::ItemFinding(const std::string& name, const ItemSummary& item) const {
  std::string by_photos = Badge(KindOf(item.Finding()));
  if (!dossiers_) return by_photos;
  const auto at = dossiers_->find(name);
  const std::string why = at == dossiers_->end() ? std::string("not made yet") : at->second.why_not;
  if (!why.empty()) {
    return fmt::format(R"({}<br><span class="quiet">no dossier: {}</span>)", by_photos,
                       HtmlText(why));
  }
  return fmt::format(R"(<a href="dossiers/{}.pdf" aria-label="Dossier of {}">{}<br>Dossier</a>)",
                     at->second.output_name, HtmlText(name), Badge(KindOf(at->second.finding)));
}

std::string Overview::ItemTable() const {
  if (items_.empty()) return "";
  const std::string rate = RateInWords(options_.compare.false_flag_rate);
  std::string rows;
  for (const auto& [key, item] : items_) {
    const auto& [name, set] = key;
    const double chance = item.FalseFlagChance(options_.compare.false_flag_rate);
    const std::string limit = chance > 0 ? fmt::format("up to {:.2g} %", 100 * chance) : "–";
    const std::string link =
        fmt::format(R"(<a class="item" href="#photos">{}</a>)", HtmlText(name));
    rows += R"(<tr role="row">)" + Cell("Item", link, R"( class="name")") +
            Cell("Set", HtmlText(set)) + Cell("Finding", ItemFinding(name, item)) +
            Cell("Photos", PhotosOf(item)) +
            (dossiers_ ? std::string() : Cell("Chance of a false flag", limit)) + "</tr>\n";
  }
  const std::string rule =
      dossiers_
          ? fmt::format(
                "The finding on an item is its dossier's, over all its photos and sets: they share "
                "the false-flag rate ({}), and a departure that other photos should show and do "
                "not is withdrawn. So it can differ from what a photo by itself says.",
                rate)
          : fmt::format(
                "An item departs if any of its photos departs. Else no departure was found if that "
                "holds for any of its photos; else it cannot be told. Each photo keeps its own "
                "false-flag rate ({}), so an item with more photos has more chances of a false "
                "flag; the last column gives the limit.",
                rate);
  return fmt::format(
      R"(<section aria-labelledby="items-title"><h2 id="items-title">Items</h2>
<p>{}</p>
<details{}><summary>{} row{}, one for an item and a set</summary>
<table role="table"><thead role="rowgroup"><tr role="row">{}{}{}{}{}</tr></thead>
<tbody role="rowgroup">
{}</tbody></table></details></section>
)",
      rule, items_.size() <= 50 ? " open" : "", items_.size(), items_.size() == 1 ? "" : "s",
      Head("Item", ""), Head("Set", ""), Head("Finding", ""), Head("Photos", ""),
      dossiers_ ? std::string() : Head("Chance of a false flag", ""), rows);
}

std::string Overview::Counts() const {
  const auto of = [this](Outcome outcome) {
    const auto at = outcomes_.find(outcome);
    return at == outcomes_.end() ? std::size_t{0} : at->second;
  };
  const std::pair<const char*, std::size_t> counts[] = {
      {"departs", all_.departs},         {"no-departure-found", all_.no_departure_found},
      {"cannot-tell", all_.cannot_tell}, {"refused", of(Outcome::kRefused)},
      {"failed", of(Outcome::kFailed)},  {"not-done", of(Outcome::kNotDone)}};
  std::string list = "<ul class=\"counts\">\n";
  for (const auto& [id, count] : counts) {
    const bool always = std::string_view(id) == "departs" || count > 0;
    if (always) list += fmt::format("<li>{} <b>{}</b></li>\n", Badge(KindOf(id)), count);
  }
  return list + "</ul>\n";
}

std::string Overview::Filters() const {
  std::string findings = Option("", "all");
  for (const Kind& kind : kKinds) {
    if (std::string_view(kind.id) != "not-compared") findings += Option(kind.id, kind.words);
  }
  std::string sets = Option("", "all");
  for (const auto& [id, words] : sets_) sets += Option(id, id);
  const std::string only_new = new_ == 0
                                   ? ""
                                   : fmt::format(
                                         "<label>New since the last run <span><input id=\"by-new\" "
                                         "type=\"checkbox\"> {} photo{}</span></label>\n",
                                         new_, new_ == 1 ? "" : "s");
  return fmt::format(
      R"(<form id="filters" hidden aria-label="Which photos to show">
<label>Finding <select id="by-finding">{}</select></label>
<label>Set <select id="by-set">{}</select></label>
<label>Largest departure, at least <span><input id="by-largest" type="number" min="0" step="0.1"
inputmode="decimal" autocomplete="off"> % of cap height</span></label>
<label>Photo, item or note contains <input id="by-text" type="search" autocomplete="off"></label>
{}<button type="reset">Show all</button>
</form>
<p id="count" role="status">{} photo{}</p>
)",
      findings, sets, only_new, all_.photos, all_.photos == 1 ? "" : "s");
}

std::string Overview::Explanation() const {
  const double rate = options_.compare.false_flag_rate;
  const std::size_t told = all_.photos - all_.left_out;
  std::string text = fmt::format(
      "<p>Each photo is tested by itself: of genuine photos, about {} is flagged by chance. Among "
      "{} compared photo{}, were all genuine, about {:.2g} would be flagged; weigh a single weak "
      "departure in a large batch accordingly.</p>\n",
      RateInWords(rate), told, told == 1 ? "" : "s", rate * static_cast<double>(told));
  text += "<ul>\n";
  for (const auto& [id, words] : sets_) {
    text += fmt::format("<li>Set <b>{}</b>{}</li>\n", HtmlText(id),
                        words.empty() ? "" : fmt::format(": {}", HtmlText(words)));
  }
  text += "</ul>\n";
  return text;
}

std::string Overview::Html() const {
  std::string cautions;
  for (const std::string& caution : compare::Cautions()) {
    cautions += fmt::format("<li>{}</li>\n", HtmlText(caution));
  }
  std::string page = "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n";
  // Nothing is loaded but the thumbnails beside the page; `file:` for a page opened from a disk.
  page += fmt::format(
      "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; img-src 'self' "
      "file:; style-src {}; script-src {}; base-uri 'none'; form-action 'none'\">\n",
      HashSource(kStyle), HashSource(kScript));
  page +=
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
      "<meta name=\"referrer\" content=\"no-referrer\">\n"
      "<meta name=\"color-scheme\" content=\"light dark\">\n"
      "<title>Lettering comparison of a batch</title>\n";
  page += fmt::format("<style>{}</style>\n</head>\n<body>\n", kStyle);
  page += fmt::format(
      "<header><h1>Lettering comparison of {} photo{}</h1>\n{}"
      "<p class=\"caution\"><b>What this does not prove:</b> lettering alone proves nothing about "
      "an item. No departure found is not a certificate, and a departure can have an honest cause. "
      "<a href=\"#cautions\">All cautions</a></p></header>\n<main>\n",
      all_.photos, all_.photos == 1 ? "" : "s", Counts());
  if (any_simulated_) {
    page +=
        "<p><b>Demonstration: the maker is invented, and the photos of the set are "
        "simulated.</b></p>\n";
  }
  page += ItemTable();
  page += "<section aria-labelledby=\"photos-title\"><h2 id=\"photos-title\">Photos</h2>\n";
  page += Filters();
  page += fmt::format(
      "<p class=\"legend\"><span class=\"dashed\" aria-hidden=\"true\"></span> dashed: where the "
      "verified items have it <span class=\"solid\" aria-hidden=\"true\"></span> solid: where this "
      "item has it, if it departs</p>\n<table role=\"table\" id=\"photos\"{} "
      "aria-labelledby=\"photos-title\">\n<thead role=\"rowgroup\"><tr "
      "role=\"row\">{}{}{}{}{}{}{}{}</tr></thead>\n<tbody role=\"rowgroup\">\n",
      items_.empty() ? " class=\"no-items\"" : "", Head("Picture", ""), Head("Photo", "text"),
      Head("Item", "text"), Head("Set", "text"), Head("Finding", "finding"),
      Head("Largest departure", "largest"), Head("Why", ""), Head("Files", ""));
  page += rows_;
  page += "</tbody></table>\n<p id=\"none\" hidden>No photo fits these filters.</p></section>\n";
  page += kDetail;
  page += "<section aria-labelledby=\"read-title\"><h2 id=\"read-title\">How to read this</h2>\n" +
          Explanation() + "</section>\n";
  page += "<section aria-labelledby=\"cautions\"><h2 id=\"cautions\">Cautions</h2>\n<ul>\n" +
          cautions + "</ul></section>\n</main>\n";
  page += fmt::format(
      "<footer><p>debossier {}; false-flag rate {} a photo{}. "
      "The same rows are in <a "
      "href=\"batch.csv\">batch.csv</a>.</p></footer>\n<script>{}</script>\n"
      "</body>\n</html>\n",
      kVersion, RateInWords(options_.compare.false_flag_rate),
      options_.compare.free_aspect ? ", free aspect" : "", kScript);
  return page;
}

std::string HashSource(std::string_view text) {
  const std::string hex = Sha256Hex(text);
  std::string bytes;
  for (std::size_t i = 0; i + 1 < hex.size(); i += 2) {
    bytes += static_cast<char>(std::stoi(hex.substr(i, 2), nullptr, 16));
  }
  return fmt::format("'sha256-{}'", Base64(bytes));
}

}  // namespace debossier::batch
