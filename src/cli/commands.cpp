#include "cli/commands.h"

#include "base/version.h"

namespace debossier::cli {

void AddCommands(CLI::App& app, Shared& shared, Job& job) {
  app.set_version_flag("--version", kVersion, "Print the version and end");
  app.require_subcommand(1);
  app.fallthrough();  // --library may stand behind the command
  app.add_option("--library", shared.library,
                 "Folder that holds glyphs/ and refsets/ (default: the current folder)")
      ->envname("DEBOSSIER_LIBRARY");
  AddBatch(app, shared, job);
  AddCard(app, job);
  AddCompare(app, shared, job);
  AddDesk(app, shared, job);
  AddDossier(app, shared, job);
  AddMeasure(app, shared, job);
  AddRefset(app, shared, job);
}

}  // namespace debossier::cli
