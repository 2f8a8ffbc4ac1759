// The program killed at random moments: nothing lost, nothing half-written.
//
// DEBOSSIER_KILLS sets how many kills; the usual number keeps the test short.
#include <fcntl.h>
#include <signal.h>
#include <sys/wait.h>

#include <chrono>
#include <cstdlib>
#include <map>
#include <nlohmann/json.hpp>
#include <random>
#include <thread>

#include "batch/record.h"
#include "batch/scratch.h"

namespace debossier::batch {
namespace {

namespace fs = std::filesystem;
using Clock = std::chrono::steady_clock;

class KillTest : public ScratchTest {
 protected:
  // Starts the program; its messages go nowhere.
  pid_t Start() const {
    const std::string library = DEBOSSIER_SOURCE, input = in(), output = out();
    const pid_t child = fork();
    if (child != 0) return child;
    const int null = open("/dev/null", O_WRONLY);
    dup2(null, STDOUT_FILENO);
    dup2(null, STDERR_FILENO);
    execl(DEBOSSIER_PROGRAM, "debossier", "--library", library.c_str(), "batch", input.c_str(),
          "--out", output.c_str(), "--set", "orbenna", "--jobs", "2", nullptr);
    _exit(127);
  }
  // Waits for the end: the exit code, or minus the signal.
  static int End(pid_t child) {
    int status = 0;
    waitpid(child, &status, 0);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
  }
  std::map<std::string, std::string> Files() const {
    std::map<std::string, std::string> files;
    if (!fs::exists(out())) return files;
    for (const auto& entry : fs::recursive_directory_iterator(out())) {
      const std::string name = entry.path().lexically_relative(out()).string();
      if (entry.is_regular_file() && !entry.path().filename().string().starts_with('.')) {
        files[name] = Contents(entry.path());
      }
    }
    return files;
  }
  void PutFour() const {
    PutExample("departing.jpg", "orbenna/departing.jpg");
    PutExample("genuine.jpg", "orbenna/genuine.jpg");
    PutExample("verified.jpg", "orbenna/verified-0000.jpg");
    Put("bad.jpg", "no picture");
  }
};

TEST_F(KillTest, LosesNothingAndLeavesNothingHalfWritten) {
  PutFour();
  const auto begin = Clock::now();
  ASSERT_EQ(End(Start()), 21) << "one photo is refused";
  std::chrono::duration<double> whole = Clock::now() - begin;
  const auto expected = Files();
  fs::remove_all(out());

  const char* wanted = std::getenv("DEBOSSIER_KILLS");
  const int kills = wanted == nullptr ? 25 : std::atoi(wanted);
  std::mt19937 random(20'261'125);
  int killed = 0;
  std::size_t records = 0;
  for (int runs = 0; killed < kills && runs < 12 * kills; ++runs) {
    const pid_t child = Start();
    const double share = std::uniform_real_distribution<>(0, 1)(random);
    std::this_thread::sleep_for(share * whole);
    kill(child, SIGKILL);
    const int end = End(child);
    killed += end == -SIGKILL;
    // The first run may have been slower than later ones.
    if (end != -SIGKILL) whole *= 0.9;
    // What is there is whole: the bytes that an undisturbed run writes.
    const auto files = Files();
    std::size_t now = 0;
    for (const auto& [name, bytes] : files) {
      ASSERT_TRUE(expected.contains(name)) << name;
      ASSERT_TRUE(expected.at(name) == bytes) << name << " after kill " << killed;
      now += name.starts_with("records/");
    }
    ASSERT_GE(now, records) << "a finished photo was lost";
    records = now;
    if (files.size() == expected.size()) {
      fs::remove_all(out());  // all is done: from the start again
      records = 0;
    }
  }
  EXPECT_EQ(killed, kills);
  ASSERT_EQ(End(Start()), 21);
  EXPECT_EQ(Files(), expected);
  for (const auto& entry : fs::recursive_directory_iterator(out())) {
    EXPECT_NE(entry.path().extension(), ".part") << entry.path();
  }
}

TEST_F(KillTest, InterruptEndsCleanlyAndKeepsWhatIsDone) {
  for (int i = 0; i < 40; ++i) {
    PutExample("photo-" + std::to_string(i) + ".jpg", "orbenna/genuine.jpg");
  }
  for (const int signal : {SIGINT, SIGTERM}) {
    const std::size_t before = Files().size();
    const pid_t child = Start();
    // As soon as a photo is done; forty take longer than one.
    const auto latest = Clock::now() + std::chrono::seconds(60);
    while (Files().size() < before + 6 && Clock::now() < latest) {
      std::this_thread::sleep_for(std::chrono::milliseconds(5));
    }
    kill(child, signal);
    EXPECT_EQ(End(child), 22);
    EXPECT_NE(Contents(out() / "batch.csv").find("not-done"), std::string::npos);
    EXPECT_GT(Files().size(), before);
    for (const auto& entry : fs::recursive_directory_iterator(out())) {
      EXPECT_NE(entry.path().extension(), ".part") << entry.path();
    }
  }
}

}  // namespace
}  // namespace debossier::batch
