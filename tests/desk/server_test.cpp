// The desk as a browser and as an attacker speak to it, over HTTP; the interface is that of
// desk/server.h.
#include "desk/server.h"

#include <gtest/gtest.h>
#include <httplib.h>
#include <netinet/in.h>
#include <sys/socket.h>
#include <unistd.h>

#include <chrono>
#include <cstdlib>
#include <fstream>
#include <nlohmann/json.hpp>
#include <opencv2/core.hpp>
#include <sstream>
#include <thread>

#include "support/scratch_folder.h"

namespace debossier::desk {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

std::string Example(const std::string& name) {
  std::ifstream in(fs::path(DEBOSSIER_SOURCE) / "examples" / name, std::ios::binary);
  std::stringstream bytes;
  bytes << in.rdbuf();
  return bytes.str();
}

class Desk : public ::testing::Test {
 protected:
  void SetUp() override {
    cv::setNumThreads(1);
    Open();
  }
  void TearDown() override { Close(); }

  void Open() {
    batch::BatchOptions options;
    options.jobs = 2;
    options.examine.pdf_policy = report::PdfPolicy::kDepartures;
    auto work = Work::Open(folder(), {DEBOSSIER_SOURCE}, options);
    ASSERT_TRUE(work) << work.error().ToString();
    work_ = *std::move(work);
    auto server = Server::Open(*work_, 0);
    ASSERT_TRUE(server) << server.error().ToString();
    server_ = *std::move(server);
    thread_ = std::thread([this] { server_->Run(); });
    host_ = "127.0.0.1:" + std::to_string(server_->port());
    const auto opened = Client().Get(server_->address().substr(("http://" + host_).size()));
    ASSERT_TRUE(opened);
    const std::string cookie = opened->get_header_value("Set-Cookie");
    cookie_ = cookie.substr(0, cookie.find(';'));
    EXPECT_NE(cookie.find("HttpOnly"), std::string::npos);
    EXPECT_NE(cookie.find("SameSite=Strict"), std::string::npos);
  }
  void Close() {
    if (server_) server_->Stop();
    if (thread_.joinable()) thread_.join();
    server_.reset();
    work_.reset();
  }
  httplib::Client Client() const { return httplib::Client("127.0.0.1", server_->port()); }
  httplib::Headers Own() const { return {{"Cookie", cookie_}, {"Origin", "http://" + host_}}; }
  int Get(const std::string& path, const httplib::Headers& headers) const {
    const auto answer = Client().Get(path, headers);
    return answer ? answer->status : 0;
  }
  httplib::Result Send(const std::string& name, const std::string& bytes,
                       const std::string& set = "orbenna") const {
    return Client().Post("/api/v1/photos?name=" + name + "&set=" + set + "&item=bag", Own(), bytes,
                         "application/octet-stream");
  }
  json Photos() const {
    const auto answer = Client().Get("/api/v1/photos", Own());
    return answer ? json::parse(answer->body)["photos"] : json();
  }
  /// All photos, once none waits any more.
  json Done() const {
    for (int i = 0; i < 600; ++i) {
      const json photos = Photos();
      const bool waits = std::any_of(photos.begin(), photos.end(),
                                     [](const json& p) { return p["outcome"] == "waiting"; });
      if (!waits) return photos;
      std::this_thread::sleep_for(std::chrono::milliseconds(100));
    }
    ADD_FAILURE() << "photos wait for a minute";
    return Photos();
  }
  fs::path folder() const { return scratch_.path() / "work"; }

  ScratchFolder scratch_;
  std::unique_ptr<Work> work_;
  std::unique_ptr<Server> server_;
  std::thread thread_;
  std::string host_;
  std::string cookie_;
};

TEST_F(Desk, OnlyItsOwnPageIsAnswered) {
  // No cookie, a wrong one, no token, a wrong one.
  EXPECT_EQ(Get("/", {}), 403);
  EXPECT_EQ(Get("/api/v1/photos", {{"Cookie", "debossier=" + std::string(64, '0')}}), 403);
  EXPECT_EQ(Get("/open", {}), 403);
  EXPECT_EQ(Get("/open?token=" + std::string(64, '0'), {}), 403);
  EXPECT_EQ(Get("/", Own()), 200);
  // A name that was made to mean this machine (DNS rebinding).
  httplib::Headers rebound = Own();
  rebound.emplace("Host", "evil.example:" + std::to_string(server_->port()));
  EXPECT_EQ(Get("/api/v1/photos", rebound), 403);
  // A form or script of another page: the cookie would not come, but if it did.
  for (const std::string& origin : {std::string("http://evil.example"), std::string("null"),
                                    "http://" + host_ + "0", "https://" + host_}) {
    for (const char* path : {"/api/v1/photos?name=a.jpg&set=orbenna", "/api/v1/pause"}) {
      const auto answer = Client().Post(path, {{"Cookie", cookie_}, {"Origin", origin}}, "x",
                                        "application/octet-stream");
      ASSERT_TRUE(answer);
      EXPECT_EQ(answer->status, 403) << origin << " " << path;
    }
  }
  const auto without = Client().Post("/api/v1/pause", {{"Cookie", cookie_}}, "", "text/plain");
  ASSERT_TRUE(without);
  EXPECT_EQ(without->status, 403);
  EXPECT_FALSE(work_->is_paused());
  EXPECT_EQ(work_->count(), 0u);
}

TEST_F(Desk, NobodyElseListensOnItsPort) {
  const auto second = Server::Open(*work_, server_->port());
  ASSERT_FALSE(second);
  EXPECT_NE(second.error().hint.find("--port"), std::string::npos);
  // Nor a program that shares ports where it may.
  const int other = ::socket(AF_INET, SOCK_STREAM, 0);
  const int yes = 1;
  ::setsockopt(other, SOL_SOCKET, SO_REUSEPORT, &yes, sizeof yes);
  sockaddr_in at{};
  at.sin_family = AF_INET;
  at.sin_port = htons(static_cast<std::uint16_t>(server_->port()));
  at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  EXPECT_NE(::bind(other, reinterpret_cast<sockaddr*>(&at), sizeof at), 0);
  ::close(other);
}

TEST_F(Desk, NothingLoadsFromElsewhereAndNothingIsGuessed) {
  const auto page = Client().Get("/", Own());
  ASSERT_TRUE(page);
  const std::string policy = page->get_header_value("Content-Security-Policy");
  EXPECT_NE(policy.find("default-src 'none'"), std::string::npos);
  EXPECT_EQ(policy.find("unsafe"), std::string::npos);
  EXPECT_EQ(page->get_header_value("X-Content-Type-Options"), "nosniff");
  EXPECT_EQ(page->body.find("http://"), std::string::npos);
  EXPECT_EQ(page->body.find("https://"), std::string::npos);
}

TEST_F(Desk, PhotosComeInAndTheirResultsOut) {
  ASSERT_EQ(Send("IMG%201.jpg", Example("orbenna/departing.jpg"))->status, 201);
  ASSERT_EQ(Send("b.png", "no picture")->status, 201);
  const json photos = Done();
  ASSERT_EQ(photos.size(), 2u);
  EXPECT_EQ(photos[0]["finding"], "departs");
  EXPECT_EQ(photos[0]["name"], "IMG_1.jpg");
  EXPECT_EQ(photos[1]["outcome"], "refused");
  EXPECT_FALSE(photos[1]["hint"].get<std::string>().empty());
  for (const char* kind : {"thumbnail", "pair", "pdf", "json"}) {
    const auto file = Client().Get(photos[0][kind].get<std::string>(), Own());
    ASSERT_TRUE(file);
    EXPECT_EQ(file->status, 200) << kind;
    EXPECT_GT(file->body.size(), 1000u) << kind;
  }
  EXPECT_EQ(json::parse(Client().Get(photos[0]["json"].get<std::string>(), Own())->body)["format"],
            "debossier-result");
  // What the command line makes of the same folder is the same.
  EXPECT_TRUE(fs::exists(folder() / "manifest.csv"));
}

TEST_F(Desk, NothingBesideThePhotosResultsIsRead) {
  ASSERT_EQ(Send("..%2F..%2F..%2Fetc%2Fpasswd", Example("orbenna/departing.jpg"))->status, 201);
  const json photos = Done();
  const std::string id = photos[0]["id"];
  for (const auto& file : fs::directory_iterator(folder() / "photos")) {
    EXPECT_EQ(file.path().filename(), "0001-passwd.img");
  }
  for (const char* path : {"/files/json/../../manifest.csv", "/files/json/..%2F..%2Fmanifest.csv",
                           "/files/json/x.json", "/files/records/0001.json", "/../manifest.csv",
                           "/manifest.csv", "/files/pdf//etc/passwd"}) {
    const int status = Get(path, Own());
    EXPECT_TRUE(status == 404 || status == 400) << path << " " << status;
  }
  EXPECT_EQ(Get("/files/json/" + id + ".json", Own()), 200);
}

TEST_F(Desk, UploadsHaveLimitsAndWordsForThem) {
  EXPECT_EQ(Send("a.jpg", "")->status, 400);
  EXPECT_EQ(Send("a.jpg", "x", "no-such-set")->status, 404);
  EXPECT_EQ(Send("a.jpg", "x", "..%2F..%2Fetc")->status / 100, 4);
  const auto labelled =
      Client().Post("/api/v1/photos?name=a.jpg&set=orbenna&item=" + std::string(300, 'i'), Own(),
                    "x", "application/octet-stream");
  ASSERT_TRUE(labelled);
  EXPECT_EQ(labelled->status, 400);
  EXPECT_FALSE(json::parse(labelled->body)["hint"].get<std::string>().empty());
  EXPECT_EQ(work_->count(), 0u);
}

TEST_F(Desk, GoesOnWhereItWasStopped) {
  ASSERT_EQ(Client().Post("/api/v1/pause", Own(), "", "text/plain")->status, 200);
  ASSERT_EQ(Send("a.jpg", Example("orbenna/departing.jpg"))->status, 201);
  EXPECT_EQ(Photos()[0]["outcome"], "waiting");
  // A second desk at the same folder is told so.
  batch::BatchOptions options;
  options.jobs = 1;
  const auto second = Work::Open(folder(), {DEBOSSIER_SOURCE}, options);
  ASSERT_FALSE(second);
  EXPECT_NE(second.error().message.find("another desk"), std::string::npos);
  Close();
  Open();
  json photos = Done();
  ASSERT_EQ(photos.size(), 1u);
  EXPECT_EQ(photos[0]["finding"], "departs");
  EXPECT_EQ(photos[0]["name"], "a.jpg");
  Close();
  Open();
  ASSERT_EQ(Send("b.jpg", Example("orbenna/genuine.jpg"))->status, 201);
  photos = Done();
  ASSERT_EQ(photos.size(), 2u);
  EXPECT_EQ(photos[1]["finding"], "no-departure-found");
}

// A body that says it is a terabyte is not waited for, nor kept.
TEST_F(Desk, WhatSaysItIsTooLargeIsNotRead) {
  const int connection = ::socket(AF_INET, SOCK_STREAM, 0);
  sockaddr_in to{};
  to.sin_family = AF_INET;
  to.sin_port = htons(static_cast<std::uint16_t>(server_->port()));
  to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  ASSERT_EQ(::connect(connection, reinterpret_cast<sockaddr*>(&to), sizeof to), 0);
  const std::string head = "POST /api/v1/photos?name=a.jpg&set=orbenna HTTP/1.1\r\nHost: " + host_ +
                           "\r\nCookie: " + cookie_ + "\r\nOrigin: http://" + host_ +
                           "\r\nContent-Type: application/octet-stream\r\n"
                           "Content-Length: 1099511627776\r\n\r\nabc";
  ASSERT_EQ(::send(connection, head.data(), head.size(), 0), static_cast<ssize_t>(head.size()));
  ::shutdown(connection, SHUT_WR);
  std::string answer;
  char buffer[1024];
  for (ssize_t n; (n = ::recv(connection, buffer, sizeof buffer, 0)) > 0;) answer.append(buffer, n);
  ::close(connection);
  EXPECT_TRUE(answer.empty() || answer.starts_with("HTTP/1.1 413")) << answer;
  EXPECT_EQ(work_->count(), 0u);
  EXPECT_EQ(Get("/", Own()), 200);
}

TEST_F(Desk, InTheBrowserFromPhotosToReports) {
  if (std::system("command -v chromedriver >/dev/null && command -v chromium >/dev/null && "
                  "command -v python3 >/dev/null") != 0) {
    GTEST_SKIP() << "chromium, chromium-driver or python3 is not installed";
  }
  std::string photos;
  const auto add = [&](const std::string& name, const std::string& example) {
    std::ofstream(scratch_.path() / name, std::ios::binary) << Example(example);
    photos += " '" + (scratch_.path() / name).string() + "'";
  };
  add("first.jpg", "orbenna/departing.jpg");
  for (int i = 0; i < 11; ++i) {
    add("photo " + std::to_string(i) + ".jpg",
        i % 6 == 0 ? "orbenna/genuine.jpg"
                   : "orbenna/verified-000" + std::to_string(i % 6) + ".jpg");
  }
  const char* pictures = std::getenv("DEBOSSIER_DESK_PICTURES");
  const std::string command = std::string("python3 '") + DEBOSSIER_TESTS + "/desk/use_desk.py' '" +
                              server_->address() + "' '" + (scratch_.path() / "profile").string() +
                              "' '" + (pictures == nullptr ? "" : pictures) + "'" + photos;
  EXPECT_EQ(std::system(command.c_str()), 0) << command;
}

TEST_F(Desk, TellsOfChangesAsTheyCome) {
  std::string heard;
  std::thread listener([&] {
    Client().Get("/api/v1/events", Own(), [&](const char* data, std::size_t size) {
      heard.append(data, size);
      return heard.find("id: 2\n") == std::string::npos;
    });
  });
  ASSERT_EQ(Send("b.png", "no picture")->status, 201);
  listener.join();
  EXPECT_NE(heard.find("event: photos\n"), std::string::npos);
}

}  // namespace
}  // namespace debossier::desk
