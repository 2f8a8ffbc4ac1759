#include "drawing/described_pdf.h"

// QPDF's own pointers are the standard's.
#define POINTERHOLDER_TRANSITION 4
#include <memory>
#include <qpdf/Buffer.hh>
#include <qpdf/Pl_Flate.hh>
#include <qpdf/QPDF.hh>
#include <qpdf/QPDFObjectHandle.hh>
#include <qpdf/QPDFWriter.hh>

#include "base/unicode.h"

namespace debossier::report {

namespace {

constexpr std::size_t kLongestWords = 2000;  // bytes

/// The figures below a structure element, in order.
void AddFigures(QPDFObjectHandle element, std::vector<QPDFObjectHandle>& figures) {
  if (element.isArray()) {
    for (int i = 0; i < element.getArrayNItems(); ++i) AddFigures(element.getArrayItem(i), figures);
    return;
  }
  if (!element.isDictionary()) return;  // marked content by its number
  if (element.getKey("/S").isNameAndEquals("/Figure")) figures.push_back(element);
  AddFigures(element.getKey("/K"), figures);
}

Unexpected Failed(const std::string& why) {
  return Refuse(ErrorCode::kInternal, "report", "", "the PDF could not be completed: " + why,
                "report this photo and set as a fault of the program");
}

}  // namespace

Result<std::string> Described(const std::string& pdf, const std::vector<std::string>& figures) try {
  // Pages and pictures are packed already; the rest is small.
  Pl_Flate::setCompressionLevel(1);
  QPDF document;
  document.setSuppressWarnings(true);
  document.processMemoryFile("report", pdf.data(), pdf.size());
  QPDFObjectHandle root = document.getRoot();
  std::vector<QPDFObjectHandle> elements;
  if (root.hasKey("/StructTreeRoot")) {
    AddFigures(root.getKey("/StructTreeRoot").getKey("/K"), elements);
  }
  if (elements.size() != figures.size()) return Failed("its figures were counted differently");
  for (std::size_t i = 0; i < elements.size(); ++i) {
    elements[i].replaceKey("/Alt",
                           QPDFObjectHandle::newUnicodeString(OneLine(figures[i], kLongestWords)));
  }
  root.replaceKey("/Lang", QPDFObjectHandle::newString("en"));
  root.replaceKey("/ViewerPreferences", QPDFObjectHandle::parse("<< /DisplayDocTitle true >>"));
  QPDFWriter writer(document);
  writer.setOutputMemory();
  writer.setDeterministicID(true);
  writer.setObjectStreamMode(qpdf_o_generate);
  writer.setStreamDataMode(qpdf_s_preserve);
  writer.setPreserveUnreferencedObjects(false);
  writer.write();
  const std::unique_ptr<Buffer> bytes(writer.getBuffer());
  return std::string(reinterpret_cast<const char*>(bytes->getBuffer()), bytes->getSize());
} catch (const std::exception& e) {
  return Failed(e.what());
}

}  // namespace debossier::report
