// XML from files nobody vouches for: looked over before the parser sees it.
//
// The parser frees its tree by recursion and spends memory on every node, so depth and the
// number of tags and attributes are limited beforehand. Document types and entities are refused,
// except the five that XML predefines, numeric references and, where asked for, the bare document
// type that property lists carry (it is not fetched). Not for: XML other than UTF-8.
#pragma once

#include <cstdint>
#include <filesystem>
#include <memory>
#include <pugixml.hpp>
#include <string>

#include "base/result.h"

namespace debossier::outline {

enum class DocumentType { kRefused, kPropertyList };

struct XmlLimits {
  std::uint64_t max_bytes = 8u << 20;
  int max_depth = 64;
  int max_pieces = 400'000;  ///< Tags and attributes together.
};

/// Says what is wrong with `xml`; empty where it may be parsed.
std::string FaultInXml(const std::string& xml, DocumentType document_type, const XmlLimits& limits);

/// Parses `xml` once FaultInXml has passed it; `path` names it in the refusal (kSetUnreadable).
Result<std::unique_ptr<pugi::xml_document>> ParseXml(const std::string& xml,
                                                     const std::filesystem::path& path,
                                                     DocumentType document_type,
                                                     const XmlLimits& limits);

/// Loads and parses one file, which must not be a symbolic link. Refuses with kSetUnreadable or,
/// for a file that is too large, kOverLimit. `bytes_read` grows by the file's size.
Result<std::unique_ptr<pugi::xml_document>> LoadXml(const std::filesystem::path& path,
                                                    DocumentType document_type,
                                                    const XmlLimits& limits,
                                                    std::uint64_t& bytes_read);

}  // namespace debossier::outline
