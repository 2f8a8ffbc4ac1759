#include "cli/pages.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>

#include "base/result.h"
#include "base/version.h"
#include "cli/commands.h"

namespace debossier::cli {

namespace {

using Names = std::vector<std::string>;

bool IsOneOf(const std::string& name, const Names& names) {
  return std::find(names.begin(), names.end(), name) != names.end();
}

std::vector<const CLI::App*> Children(const CLI::App& app) {
  return app.get_subcommands([](const CLI::App*) { return true; });
}

std::string LongName(const CLI::Option& option) { return "--" + option.get_lnames().front(); }

/// The options that stand behind a command, those of the commands above it too.
std::vector<const CLI::Option*> OptionsOf(const CLI::App& command) {
  std::vector<const CLI::Option*> options;
  for (const CLI::App* at = &command; at != nullptr; at = at->get_parent()) {
    for (const CLI::Option* option : at->get_options()) {
      const bool repeated =
          at != &command && IsOneOf(option->get_name(), {"-h,--help", "--version"});
      if (option->nonpositional() && !repeated) options.push_back(option);
    }
  }
  return options;
}

std::vector<const CLI::Option*> PositionalsOf(const CLI::App& command) {
  return command.get_options([](const CLI::Option* option) { return !option->nonpositional(); });
}

bool TakesValue(const CLI::Option& option) { return option.get_items_expected_max() > 0; }

/// "a4 letter" of an option that takes one of a few words.
Names ChoicesOf(const CLI::Option& option) {
  const std::string type = option.get_type_name();
  const auto from = type.find('{');
  const auto to = type.find('}');
  if (from == std::string::npos || to == std::string::npos) return {};
  return CLI::detail::split(type.substr(from + 1, to - from - 1), ',');
}

/// Text for troff: a hyphen that is typed is a minus, a line never begins with a request.
std::string Roff(const std::string& text) {
  std::string out;
  for (const char c : text) {
    if (c == '\\') {
      out += "\\e";
    } else if (c == '-') {
      out += "\\-";
    } else {
      out += c;
    }
  }
  return !out.empty() && (out[0] == '.' || out[0] == '\'') ? "\\&" + out : out;
}

std::string Item(const std::string& term, const std::string& text) {
  return fmt::format(".TP\n{}\n{}\n", term, Roff(text));
}

std::string OptionItem(const CLI::Option& option) {
  std::string term = ".B " + Roff(LongName(option));
  if (TakesValue(option))
    term = fmt::format(".BI \"{} \" {}", Roff(LongName(option)), Roff(ValueOf(option)));
  std::string text = option.get_description();
  if (option.get_required()) text += " (required)";
  if (!option.get_envname().empty()) {
    text += fmt::format(" (or the variable {})", option.get_envname());
  }
  return Item(term, text + ".");
}

std::string Synopsis(const CLI::App& command) {
  std::string text = ".B " + Roff(FullName(command)) + "\n";
  for (const CLI::Option* option : OptionsOf(command)) {
    if (!option->get_required()) continue;
    text += fmt::format(".BI \"{} \" {}\n", Roff(LongName(*option)), Roff(ValueOf(*option)));
  }
  text += ".RI [ option ...]\n";
  for (const CLI::Option* positional : PositionalsOf(command)) {
    text += fmt::format(".I {}\n", Roff(positional->get_single_name()));
  }
  if (!Children(command).empty()) text += ".I command\n.RI [ option ...]\n";
  return text;
}

std::string SeeAlso(const CLI::App& command) {
  Names pages;
  const CLI::App& root = command.get_parent() == nullptr ? command : *command.get_parent();
  if (command.get_parent() != nullptr) pages.push_back(FullName(root, "-"));
  for (const CLI::App* other : Children(root)) {
    if (other != &command) pages.push_back(FullName(*other, "-"));
  }
  std::string text;
  for (std::size_t i = 0; i < pages.size(); ++i) {
    text += fmt::format(".BR {} (1){}\n", Roff(pages[i]), i + 1 < pages.size() ? "," : "");
  }
  return text;
}

/// For a single-quoted word of the shell.
std::string Quoted(const std::string& text) {
  std::string out = "'";
  for (const char c : text) out += c == '\'' ? std::string("'\\''") : std::string(1, c);
  return out + "'";
}

/// The same inside zsh's specifications, where brackets and colons part the fields.
std::string ZshText(std::string text) {
  for (const char special : {'\\', '[', ']', ':'}) {
    std::string out;
    for (const char c : text) out += c == special ? std::string("\\") + c : std::string(1, c);
    text = std::move(out);
  }
  return text;
}

std::string ZshAction(const CLI::Option& option) {
  const Names choices = ChoicesOf(option);
  if (!choices.empty()) return fmt::format("({})", fmt::join(choices, " "));
  const std::string value = ValueOf(option);
  if (value == "FILE") return "_files";
  if (value == "FOLDER") return "_files -/";
  if (value == "SET") return "_debossier_sets";
  return " ";
}

std::string ZshCase(const CLI::App& command) {
  std::string text = fmt::format("    ({})\n      _arguments -S", Quoted(FullName(command)));
  for (const CLI::Option* option : OptionsOf(command)) {
    std::string spec =
        fmt::format("*{}[{}]", LongName(*option), ZshText(option->get_description()));
    if (TakesValue(*option)) {
      spec += fmt::format(":{}:{}", ZshText(ValueOf(*option)), ZshAction(*option));
    }
    text += " \\\n        " + Quoted(spec);
  }
  for (const CLI::Option* positional : PositionalsOf(command)) {
    const std::string name = positional->get_single_name();
    text += " \\\n        " +
            Quoted(fmt::format(":{}:{}", name, name == "set" ? "_debossier_sets" : "_files"));
  }
  if (!Children(command).empty()) {
    Names names;
    for (const CLI::App* child : Children(command)) names.push_back(child->get_name());
    text += " \\\n        " + Quoted(fmt::format(":command:({})", fmt::join(names, " ")));
  }
  return text + " ;;\n";
}

/// Shell lines that find the command that the words so far name, by its full name.
std::string FindCommand(const CLI::App& app, const std::string& words) {
  std::string text = fmt::format(
      "  local command={} word at=1 count=1\n  for word in {}; do\n    count=$((count + 1))\n"
      "    case \"$command $word\" in\n",
      Quoted(FullName(app)), words);
  for (const CLI::App* command : AllCommands(app)) {
    if (command == &app) continue;
    text += fmt::format("      ({}) command={}; at=$count ;;\n", Quoted(FullName(*command)),
                        Quoted(FullName(*command)));
  }
  return text + "    esac\n  done\n";
}

}  // namespace

std::string ValueOf(const CLI::Option& option) {
  const Names choices = ChoicesOf(option);
  if (!choices.empty()) return fmt::format("{}", fmt::join(choices, "|"));
  const std::string& name = option.get_single_name();
  if (IsOneOf(name, {"photo", "pdf", "json", "font", "origin-font", "with-photo"})) return "FILE";
  if (IsOneOf(name, {"out", "photos", "library", "outlines"})) return "FOLDER";
  if (name == "set") return "SET";
  const std::string type = option.get_type_name();
  return type.starts_with("TEXT") ? "TEXT" : "NUMBER";
}

std::vector<const CLI::App*> AllCommands(const CLI::App& app) {
  std::vector<const CLI::App*> all{&app};
  for (const CLI::App* child : Children(app)) {
    const auto below = AllCommands(*child);
    all.insert(all.end(), below.begin(), below.end());
  }
  return all;
}

std::string FullName(const CLI::App& command, const std::string& between) {
  const CLI::App* parent = command.get_parent();
  return parent == nullptr ? command.get_name()
                           : FullName(*parent, between) + between + command.get_name();
}

const std::vector<std::pair<int, std::string>>& ExitMeanings() {
  static const std::vector<std::pair<int, std::string>> meanings = {
      {0, "the job ran, whatever the finding"},
      {ExitCode(ErrorCode::kUsage), "an option or argument is wrong"},
      {ExitCode(ErrorCode::kFileMissing), "a photo or font is missing or cannot be opened"},
      {ExitCode(ErrorCode::kNotAnImage), "not an image: empty, unknown, truncated or damaged"},
      {ExitCode(ErrorCode::kOverLimit), "over a limit of bytes or pixels"},
      {ExitCode(ErrorCode::kPhotoTooSmall), "the lettering, or the photo, is too small"},
      {ExitCode(ErrorCode::kNoStamp), "no stamped lettering was seen"},
      {ExitCode(ErrorCode::kLetteringNotFound),
       "lettering there may be, but not the one asked for"},
      {ExitCode(ErrorCode::kSetMissing), "no such reference set"},
      {ExitCode(ErrorCode::kSetUnreadable), "the set or its outlines cannot be read"},
      {ExitCode(ErrorCode::kNewerFormat), "the set was written by a newer version"},
      {ExitCode(ErrorCode::kTextNotCovered),
       "the set, alphabet or font lacks a character of the text"},
      {ExitCode(ErrorCode::kOutputNotWritable), "an output cannot be written"},
      {ExitCode(ErrorCode::kOutputExists), "an output exists already (allow it with --replace)"},
      {ExitCode(ErrorCode::kItemsDoNotAgree),
       "photos given for one set do not show one lettering, or one item twice"},
      {ExitCode(ErrorCode::kSetBusy), "somebody else is changing the set"},
      {ExitCode(ErrorCode::kManifestUnsound), "a manifest has mistakes"},
      {ExitCode(ErrorCode::kPhotosLeftOut),
       "a batch ended, but some photos were refused or failed"},
      {ExitCode(ErrorCode::kStopped), "a batch was stopped; what is done is kept"},
      {ExitCode(ErrorCode::kInternal), "an internal error"},
  };
  return meanings;
}

std::string ManPage(const CLI::App& command) {
  const bool is_root = command.get_parent() == nullptr;
  const std::string about =
      is_root ? "compare heat-stamped lettering with reference sets" : command.get_description();
  std::string page = fmt::format(
      ".TH {} 1 \"\" \"debossier {}\" \"User Commands\"\n.SH NAME\n{} \\- {}\n.SH SYNOPSIS\n{}",
      Roff(FullName(command, "-")), kVersion, Roff(FullName(command, "-")), Roff(about),
      Synopsis(command));
  page += ".SH DESCRIPTION\n" + Roff(command.get_description()) + ".\n";
  if (const auto children = Children(command); !children.empty()) {
    page += ".SH COMMANDS\n";
    for (const CLI::App* child : children) {
      page += Item(".B " + Roff(child->get_name()), child->get_description() + ".");
    }
  }
  if (const auto positionals = PositionalsOf(command); !positionals.empty()) {
    page += ".SH ARGUMENTS\n";
    for (const CLI::Option* positional : positionals) {
      page +=
          Item(".I " + Roff(positional->get_single_name()), positional->get_description() + ".");
    }
  }
  page += ".SH OPTIONS\n";
  for (const CLI::Option* option : OptionsOf(command)) page += OptionItem(*option);
  page += ".SH EXIT STATUS\nIt says whether the job ran, not what was found.\n";
  for (const auto& [code, meaning] : ExitMeanings()) {
    page += Item(fmt::format(".B {}", code), meaning);
  }
  page += ".SH CAUTIONS\n";
  for (const auto& caution : compare::Cautions()) page += Item("\\(bu", caution);
  return page + ".SH SEE ALSO\n" + SeeAlso(command);
}

std::string BashCompletion(const CLI::App& app) {
  std::string text =
      "# bash completion for debossier\n"
      "_debossier() {\n"
      "  local current=${COMP_WORDS[COMP_CWORD]} previous=${COMP_WORDS[COMP_CWORD - 1]} words\n" +
      FindCommand(app, "\"${COMP_WORDS[@]:1:COMP_CWORD-1}\"") + "  COMPREPLY=()\n";
  std::string values = "  case \"$command:$previous\" in\n";
  std::string words = "  case \"$command\" in\n";
  for (const CLI::App* command : AllCommands(app)) {
    const std::string name = FullName(*command);
    Names all;
    for (const CLI::App* child : Children(*command)) all.push_back(child->get_name());
    for (const CLI::Option* option : OptionsOf(*command)) {
      all.push_back(LongName(*option));
      if (!TakesValue(*option)) continue;
      const Names choices = ChoicesOf(*option);
      std::string reply;
      if (!choices.empty()) reply = Quoted(fmt::format("{}", fmt::join(choices, " ")));
      if (ValueOf(*option) == "SET") reply = "\"$(debossier refset list 2>/dev/null | cut -f1)\"";
      if (!reply.empty())
        reply = fmt::format("COMPREPLY=($(compgen -W {} -- \"$current\")); ", reply);
      values +=
          fmt::format("    ({}) {}return ;;\n", Quoted(name + ":" + LongName(*option)), reply);
    }
    words += fmt::format("    ({}) words={} ;;\n", Quoted(name),
                         Quoted(fmt::format("{}", fmt::join(all, " "))));
  }
  text += values + "  esac\n" + words + "  esac\n";
  text +=
      "  case \"$command\" in\n"
      "    ('debossier refset '*)\n"
      "      [ \"$at\" -eq $((COMP_CWORD)) ] && "
      "words=\"$words $(debossier refset list 2>/dev/null | cut -f1)\" ;;\n"
      "  esac\n"
      "  COMPREPLY=($(compgen -W \"$words\" -- \"$current\"))\n"
      "}\n"
      "complete -o bashdefault -o default -F _debossier debossier\n";
  return text;
}

std::string ZshCompletion(const CLI::App& app) {
  std::string text =
      "#compdef debossier\n"
      "_debossier_sets() {\n"
      "  local -a sets\n"
      "  sets=(${(f)\"$(debossier refset list 2>/dev/null | cut -f1)\"})\n"
      "  compadd -a sets\n"
      "}\n"
      "_debossier() {\n" +
      FindCommand(app, "\"${(@)words[2,CURRENT-1]}\"") +
      "  words=(\"${(@)words[at,-1]}\")\n"
      "  CURRENT=$((CURRENT - at + 1))\n"
      "  case \"$command\" in\n";
  for (const CLI::App* command : AllCommands(app)) text += ZshCase(*command);
  return text + "  esac\n}\n_debossier \"$@\"\n";
}

}  // namespace debossier::cli
