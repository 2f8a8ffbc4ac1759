// The desk: one page for the browser of this machine, and what it asks for, over HTTP.
//
//   GET  /open?token=...      the printed address: gives the cookie, leads to the page
//   GET  /                    the page, its style and script
//   GET  /api/v1/sets         the library's sets
//   GET  /api/v1/photos       all photos and what is known of them
//   POST /api/v1/photos?name=...&set=...&item=...   takes in the body's bytes
//   POST /api/v1/pause, /api/v1/resume
//   GET  /api/v1/events       server-sent events: "photos" when something changed
//   GET  /files/thumbnails|pairs|pdf|json/<name>    a photo's results
//
// Answers are JSON; an error is {"code", "message", "hint"} with the exit codes of the program.
// Listens on the loopback alone; guard.h says who may ask.
// Not for: anything over a network.
#pragma once

#include <memory>
#include <string>

#include "base/result.h"
#include "desk/work.h"

namespace debossier::desk {

class Server {
 public:
  /// Takes a port, 0 for any free one. Refuses with kUsage where it is taken.
  static Result<std::unique_ptr<Server>> Open(Work& work, int port);
  ~Server();
  Server(const Server&) = delete;
  Server& operator=(const Server&) = delete;

  /// The address to open; it holds the secret.
  std::string address() const;
  int port() const;
  /// Answers until Stop().
  void Run();
  void Stop();

 private:
  class Impl;
  explicit Server(std::unique_ptr<Impl> impl);
  std::unique_ptr<Impl> impl_;
};

}  // namespace debossier::desk
