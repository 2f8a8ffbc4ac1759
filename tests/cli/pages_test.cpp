// Help, manual, completion and README say the same of every command.
#include "cli/pages.h"

#include <gtest/gtest.h>

#include <map>
#include <regex>
#include <set>

#include "cli/commands.h"
#include "cli/program.h"

namespace debossier::cli {
namespace {

class Pages : public ::testing::Test {
 protected:
  Pages() { AddCommands(app_, shared_, job_); }

  CLI::App app_{kAbout, "debossier"};
  Shared shared_;
  Job job_;
};

std::set<std::string> OptionsIn(const std::string& text) {
  std::set<std::string> found;
  const std::regex option("--[a-z][a-z-]+");
  for (std::sregex_iterator it(text.begin(), text.end(), option), end; it != end; ++it) {
    found.insert(it->str());
  }
  return found;
}

/// "\-" is a hyphen that is typed.
std::string Unescaped(std::string roff) {
  for (auto at = roff.find("\\-"); at != std::string::npos; at = roff.find("\\-", at)) {
    roff.erase(at, 1);
  }
  return roff;
}

TEST_F(Pages, ManualAndCompletionHaveTheOptionsOfTheHelp) {
  const std::string bash = BashCompletion(app_);
  const std::string zsh = ZshCompletion(app_);
  int commands = 0;
  for (const CLI::App* command : AllCommands(app_)) {
    const std::string name = FullName(*command);
    SCOPED_TRACE(name);
    const std::string arguments = name.substr(std::string("debossier").size());
    const ProgramRun help = Program(arguments + " --help");
    ASSERT_EQ(help.code, 0);
    const auto wanted = OptionsIn(help.output);
    EXPECT_FALSE(wanted.empty());
    const std::string page = Unescaped(ManPage(*command));
    const auto in_page = OptionsIn(page);
    // The words that bash offers behind this command, and zsh's case of it.
    const auto from_bash = bash.find("    ('" + name + "') words=");
    const auto from_zsh = zsh.find("    ('" + name + "')\n");
    ASSERT_NE(from_bash, std::string::npos);
    ASSERT_NE(from_zsh, std::string::npos);
    const auto in_bash = OptionsIn(bash.substr(from_bash, bash.find(";;", from_bash) - from_bash));
    const auto in_zsh = OptionsIn(zsh.substr(from_zsh, zsh.find(" ;;\n", from_zsh) - from_zsh));
    for (const auto& option : wanted) {
      EXPECT_TRUE(in_page.contains(option)) << option;
      // Named in a sentence of the help alone: another command's.
      const bool own = help.output.find("\n  " + option) != std::string::npos ||
                       help.output.find("," + option + " ") != std::string::npos;
      EXPECT_TRUE(!own || in_bash.contains(option)) << option;
      EXPECT_TRUE(!own || in_zsh.contains(option)) << option;
    }
    for (const CLI::App* child : command->get_subcommands([](const CLI::App*) { return true; })) {
      EXPECT_NE(page.find(".B " + child->get_name()), std::string::npos) << child->get_name();
    }
    ++commands;
  }
  EXPECT_EQ(commands, 18);
}

TEST_F(Pages, ExitCodesAreThoseOfTheReadme) {
  const std::string readme = Text(kSource + "/README.md");
  const std::string table = readme.substr(readme.find("## Exit codes"));
  std::map<int, std::string> in_readme;
  const std::regex row("\\n\\| (\\d+) \\| ([^\\n]+) \\|(?=\\n)");
  for (std::sregex_iterator it(table.begin(), table.end(), row), end; it != end; ++it) {
    in_readme[std::stoi((*it)[1])] = std::regex_replace((*it)[2].str(), std::regex("`"), "");
  }
  const auto& meanings = ExitMeanings();
  EXPECT_EQ(in_readme, (std::map<int, std::string>(meanings.begin(), meanings.end())));
  EXPECT_EQ(in_readme.size(), 20u);
}

}  // namespace
}  // namespace debossier::cli
