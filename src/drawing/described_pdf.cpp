#include "drawing/described_pdf.h"

#include <qpdf/qpdf-c.h>

#include "base/unicode.h"

namespace debossier::report {

namespace {

constexpr std::size_t kLongestWords = 2000;  // bytes
constexpr int kDeepest = 64;

/// A document by QPDF's interface for C; clang 14 does not take the one for C++ with C++20.
class Document {
 public:
  Document() : data_(qpdf_init()) {
    qpdf_silence_errors(data_);
    qpdf_set_suppress_warnings(data_, QPDF_TRUE);
  }
  ~Document() { qpdf_cleanup(&data_); }
  Document(const Document&) = delete;
  Document& operator=(const Document&) = delete;

  qpdf_data get() const { return data_; }
  /// What went wrong so far; empty where nothing did.
  std::string Trouble() const {
    if (!qpdf_has_error(data_)) return "";
    return qpdf_get_error_full_text(data_, qpdf_get_error(data_));
  }

 private:
  qpdf_data data_;
};

/// Gives the figures below a structure element their words, in order; `next` counts them.
void AddWords(qpdf_data pdf, qpdf_oh element, const std::vector<std::string>& figures,
              std::size_t& next, int depth) {
  if (depth > kDeepest) return;
  if (qpdf_oh_is_array(pdf, element)) {
    for (int i = 0; i < qpdf_oh_get_array_n_items(pdf, element); ++i) {
      const qpdf_oh item = qpdf_oh_get_array_item(pdf, element, i);
      AddWords(pdf, item, figures, next, depth + 1);
      qpdf_oh_release(pdf, item);
    }
    return;
  }
  if (!qpdf_oh_is_dictionary(pdf, element)) return;  // marked content by its number
  const qpdf_oh kind = qpdf_oh_get_key(pdf, element, "/S");
  if (qpdf_oh_is_name_and_equals(pdf, kind, "/Figure") && next++ < figures.size()) {
    const std::string words = OneLine(figures[next - 1], kLongestWords);
    qpdf_oh_replace_key(pdf, element, "/Alt", qpdf_oh_new_unicode_string(pdf, words.c_str()));
  }
  qpdf_oh_release(pdf, kind);
  const qpdf_oh below = qpdf_oh_get_key(pdf, element, "/K");
  AddWords(pdf, below, figures, next, depth + 1);
  qpdf_oh_release(pdf, below);
}

Unexpected Failed(const std::string& why) {
  return Refuse(ErrorCode::kInternal, "report", "", "the PDF could not be completed: " + why,
                "report this photo and set as a fault of the program");
}

}  // namespace

Result<std::string> Described(const std::string& pdf, const std::vector<std::string>& figures) {
  const Document document;
  qpdf_data data = document.get();
  if ((qpdf_read_memory(data, "report", pdf.data(), pdf.size(), nullptr) & QPDF_ERRORS) != 0) {
    return Failed(document.Trouble());
  }
  const qpdf_oh root = qpdf_get_root(data);
  std::size_t count = 0;
  if (qpdf_oh_has_key(data, root, "/StructTreeRoot")) {
    const qpdf_oh tree = qpdf_oh_get_key(data, root, "/StructTreeRoot");
    AddWords(data, qpdf_oh_get_key(data, tree, "/K"), figures, count, 0);
  }
  if (count != figures.size()) return Failed("its figures were counted differently");
  qpdf_oh_replace_key(data, root, "/Lang", qpdf_oh_new_string(data, "en"));
  qpdf_oh_replace_key(data, root, "/ViewerPreferences",
                      qpdf_oh_parse(data, "<< /DisplayDocTitle true >>"));
  qpdf_init_write_memory(data);
  qpdf_set_deterministic_ID(data, QPDF_TRUE);
  qpdf_set_object_stream_mode(data, qpdf_o_generate);
  qpdf_set_stream_data_mode(data, qpdf_s_preserve);
  if ((qpdf_write(data) & QPDF_ERRORS) != 0) return Failed(document.Trouble());
  return std::string(reinterpret_cast<const char*>(qpdf_get_buffer(data)),
                     qpdf_get_buffer_length(data));
}

}  // namespace debossier::report
