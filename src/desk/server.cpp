#include "desk/server.h"

#include <fmt/format.h>
#include <httplib.h>

#include <algorithm>
#include <atomic>
#include <nlohmann/json.hpp>

#include "base/files.h"
#include "base/version.h"
#include "desk/guard.h"
#include "image/photo.h"

namespace debossier::desk {

namespace {

using Json = nlohmann::ordered_json;
using httplib::Request;
using httplib::Response;

constexpr const char* kPage =
#include "desk/index.html.inc"
    ;
constexpr const char* kStyle =
#include "desk/desk.css.inc"
    ;
constexpr const char* kScript =
#include "desk/desk.js.inc"
    ;
// The sign of a departure, as the reports have it.
constexpr const char* kIcon =
    R"(<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 16 16"><circle cx="8" cy="8" r="8" )"
    R"(fill="#d55e00"/><path d="M4 6h8M4 10h8M6 13l4-10" stroke="#fff" stroke-width="1.6"/></svg>)";
constexpr const char* kCookie = "debossier";
constexpr int kThreads = 16;
constexpr int kMostListeners = 6;  // each keeps a thread
constexpr std::uint64_t kLargestResult = 1u << 30;

int StatusOf(ErrorCode code) {
  switch (code) {
    case ErrorCode::kOverLimit:
      return 413;
    case ErrorCode::kSetMissing:
    case ErrorCode::kFileMissing:
      return 404;
    case ErrorCode::kInternal:
    case ErrorCode::kOutputNotWritable:
      return 500;
    default:
      return 400;
  }
}

void Answer(Response& response, const Json& json, int status = 200) {
  response.status = status;
  response.set_content(json.dump(-1, ' ', false, Json::error_handler_t::replace),
                       "application/json");
}

void Answer(Response& response, const Error& error, int status = 0) {
  Answer(response,
         {{"code", ExitCode(error.code)}, {"message", error.message}, {"hint", error.hint}},
         status == 0 ? StatusOf(error.code) : status);
}

Json RecordJson(const WorkPhoto& photo) {
  const batch::Record& r = *photo.record;
  const std::string& name = photo.entry.output_name;
  Json json = {{"outcome", batch::Name(r.outcome)}};
  if (r.outcome == batch::Outcome::kCompared) {
    json["finding"] = compare::Name(r.finding);
    json["summary"] = r.summary;
    json["advice"] = r.advice;
    json["json"] = fmt::format("/files/json/{}.json", name);
    if (!r.pdf.empty()) json["pdf"] = fmt::format("/files/pdf/{}.pdf", name);
  } else {
    json["message"] = r.message;
    json["hint"] = r.hint;
  }
  if (r.thumbnail) json["thumbnail"] = fmt::format("/files/thumbnails/{}.svg", name);
  if (r.pair) json["pair"] = fmt::format("/files/pairs/{}.svg", name);
  return json;
}

}  // namespace

class Server::Impl {
 public:
  Impl(Work& work, std::string token, std::string session)
      : work_(work), token_(std::move(token)), session_(std::move(session)) {
    http_.new_task_queue = [] { return new httplib::ThreadPool(kThreads); };
    // The library's own options let a second program listen on the same port, and take a share of
    // what is sent to it.
    http_.set_socket_options([](socket_t socket) {
      const int yes = 1;
      setsockopt(socket, SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes);
    });
    http_.set_payload_max_length(image::LoadOptions{}.max_file_bytes);
    http_.set_keep_alive_max_count(1000);
    http_.set_pre_routing_handler([this](const Request& q, Response& r) {
      return Guard(q, r) ? httplib::Server::HandlerResponse::Unhandled
                         : httplib::Server::HandlerResponse::Handled;
    });
    http_.set_error_handler([](const Request&, Response& r) {
      if (!r.body.empty()) return;
      Answer(r,
             Error{ErrorCode::kUsage, "desk", "",
                   r.status == 413 ? "is larger than a photo may be" : "is not there",
                   "open the page again"},
             r.status);
    });
    AddRoutes();
  }

  int Bind(int port) {
    port_ = port == 0 ? http_.bind_to_any_port("127.0.0.1")
                      : (http_.bind_to_port("127.0.0.1", port) ? port : -1);
    return port_;
  }
  int port() const { return port_; }
  std::string address() const {
    return fmt::format("http://127.0.0.1:{}/open?token={}", port_, token_);
  }
  void Run() { http_.listen_after_bind(); }
  void Stop() {
    ends_ = true;
    http_.stop();
  }

 private:
  /// True where the request may go on; else the refusal is in the response.
  bool Guard(const Request& q, Response& r) const {
    r.set_header("Content-Security-Policy",
                 "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
                 "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'");
    r.set_header("X-Content-Type-Options", "nosniff");
    r.set_header("Referrer-Policy", "no-referrer");
    r.set_header("Cross-Origin-Resource-Policy", "same-origin");
    r.set_header("Cache-Control", "no-store");
    const auto refuse = [&](const char* message) {
      Answer(r,
             Error{ErrorCode::kUsage, "desk", "", message,
                   "open the address that the program printed"},
             403);
      return false;
    };
    if (!IsLoopbackHost(q.get_header_value("Host"), port_)) return refuse("is another host");
    if (q.path == "/open") return true;
    if (!SameSecret(CookieNamed(kCookie, q.get_header_value("Cookie")), session_)) {
      return refuse("this browser has not opened the desk");
    }
    const bool changes = q.method != "GET" && q.method != "HEAD";
    if (changes && !IsOwnOrigin(q.get_header_value("Origin"), port_)) {
      return refuse("comes from another page");
    }
    if (changes && q.path == "/api/v1/photos" && work_.count() >= kMostPhotos) {
      Answer(r, Error{ErrorCode::kOverLimit, "desk", "", "the work folder is full",
                      "begin another work folder"});
      return false;
    }
    return true;
  }

  void AddRoutes() {
    http_.Get("/open", [this](const Request& q, Response& r) { OpenPage(q, r); });
    const auto embedded = [this](const char* path, const char* text, const char* type) {
      http_.Get(path, [text, type](const Request&, Response& r) { r.set_content(text, type); });
    };
    embedded("/", kPage, "text/html; charset=utf-8");
    embedded("/desk.css", kStyle, "text/css");
    embedded("/favicon.ico", kIcon, "image/svg+xml");
    embedded("/desk.js", kScript, "text/javascript");
    http_.Get("/api/v1/sets", [this](const Request&, Response& r) { ListSets(r); });
    http_.Get("/api/v1/photos", [this](const Request&, Response& r) { ListPhotos(r); });
    http_.Post("/api/v1/photos", [this](const Request& q, Response& r) { TakeIn(q, r); });
    http_.Post("/api/v1/pause", [this](const Request&, Response& r) {
      work_.Pause();
      Answer(r, {{"paused", true}});
    });
    http_.Post("/api/v1/resume", [this](const Request&, Response& r) {
      work_.Resume();
      Answer(r, {{"paused", false}});
    });
    http_.Get("/api/v1/events", [this](const Request&, Response& r) { Listen(r); });
    http_.Get(R"(/files/(thumbnails|pairs|pdf|json)/([A-Za-z0-9_-]+)\.(svg|pdf|json))",
              [this](const Request& q, Response& r) { SendFile(q, r); });
  }

  void OpenPage(const Request& q, Response& r) const {
    if (!SameSecret(q.get_param_value("token"), token_)) {
      return Answer(r,
                    Error{ErrorCode::kUsage, "desk", "", "the address is not this desk's",
                          "open the address that the program printed"},
                    403);
    }
    r.set_header("Set-Cookie",
                 fmt::format("{}={}; Path=/; HttpOnly; SameSite=Strict", kCookie, session_));
    // A page that leads on by itself: after a redirect from elsewhere a strict cookie is not sent.
    r.set_header("Refresh", "0; url=/");
    r.set_content("<!DOCTYPE html><title>debossier desk</title><a href=\"/\">Open the desk</a>",
                  "text/html; charset=utf-8");
  }

  void ListSets(Response& r) const {
    const auto ids = refset::ListSets(work_.library());
    if (!ids) return Answer(r, ids.error());
    Json sets = Json::array();
    for (const std::string& id : *ids) {
      const auto set = refset::LoadSetRecord(work_.library(), id);
      if (!set) {
        sets.push_back({{"id", id}, {"trouble", set.error().message}});
        continue;
      }
      sets.push_back({{"id", id},
                      {"maker", set->labels.maker},
                      {"period", set->labels.period},
                      {"items", set->items.size()},
                      {"simulated", set->simulated}});
    }
    Answer(r, {{"sets", std::move(sets)}});
  }

  void ListPhotos(Response& r) const {
    // The version first: what comes after it is told again.
    const std::uint64_t version = work_.version();
    Json photos = Json::array();
    for (const WorkPhoto& p : work_.Photos()) {
      Json json = {{"id", p.entry.output_name},
                   {"name", p.received_as},
                   {"set", p.entry.set},
                   {"item", p.entry.item}};
      json.update(p.record ? RecordJson(p) : Json{{"outcome", "waiting"}});
      photos.push_back(std::move(json));
    }
    Answer(r, {{"version", version},
               {"program", kVersion},
               {"paused", work_.is_paused()},
               {"trouble", work_.trouble()},
               {"photos", std::move(photos)}});
  }

  void TakeIn(const Request& q, Response& r) {
    if (q.body.empty()) {
      return Answer(
          r, Error{ErrorCode::kNotAnImage, "desk", "", "the file is empty", "choose another file"});
    }
    const auto added = work_.Add(q.get_param_value("name"), q.body, q.get_param_value("set"),
                                 q.get_param_value("item"));
    if (!added) return Answer(r, added.error());
    Answer(r, {{"taken", true}}, 201);
  }

  void Listen(Response& r) {
    if (++listeners_ > kMostListeners) {
      --listeners_;
      return Answer(r,
                    Error{ErrorCode::kOverLimit, "desk", "", "too many pages are open",
                          "close another page of the desk"},
                    503);
    }
    auto seen = std::make_shared<std::uint64_t>(0);
    r.set_chunked_content_provider(
        "text/event-stream",
        [this, seen](std::size_t, httplib::DataSink& sink) {
          if (ends_) return false;
          const std::uint64_t now = work_.WaitBeyond(*seen);
          // A comment where nothing changed tells whether anybody still listens.
          const std::string text =
              now == *seen ? ": still here\n\n"
                           : fmt::format("event: photos\nid: {}\ndata: {}\n\n", now, now);
          *seen = now;
          return sink.write(text.data(), text.size());
        },
        [this](bool) { --listeners_; });
  }

  void SendFile(const Request& q, Response& r) const {
    const std::string folder = q.matches[1], name = q.matches[2], extension = q.matches[3];
    const std::vector<WorkPhoto> photos = work_.Photos();
    const bool is_known = std::any_of(photos.begin(), photos.end(), [&](const WorkPhoto& p) {
      return p.record && p.entry.output_name == name;
    });
    const auto bytes =
        is_known
            ? LoadFile(work_.results() / folder / (name + "." + extension), kLargestResult, "desk")
            : Result<std::string>(Refuse(ErrorCode::kFileMissing, "desk", "", "is not there",
                                         "open the page again"));
    if (!bytes) return Answer(r, bytes.error(), 404);
    r.set_content(*bytes, extension == "svg"   ? "image/svg+xml"
                          : extension == "pdf" ? "application/pdf"
                                               : "application/json");
  }

  Work& work_;
  const std::string token_;
  const std::string session_;
  httplib::Server http_;
  int port_ = -1;
  std::atomic<int> listeners_{0};
  std::atomic<bool> ends_{false};
};

Server::Server(std::unique_ptr<Impl> impl) : impl_(std::move(impl)) {}
Server::~Server() { impl_->Stop(); }

Result<std::unique_ptr<Server>> Server::Open(Work& work, int port) {
  auto token = RandomSecret();
  if (!token) return PassOn(token);
  auto session = RandomSecret();
  if (!session) return PassOn(session);
  auto impl = std::make_unique<Impl>(work, *std::move(token), *std::move(session));
  if (impl->Bind(port) < 0) {
    return Refuse(ErrorCode::kUsage, "desk", fmt::format("port {}", port), "cannot be listened on",
                  "leave --port out, or give another one");
  }
  return std::unique_ptr<Server>(new Server(std::move(impl)));
}

std::string Server::address() const { return impl_->address(); }
int Server::port() const { return impl_->port(); }
void Server::Run() { impl_->Run(); }
void Server::Stop() { impl_->Stop(); }

}  // namespace debossier::desk
