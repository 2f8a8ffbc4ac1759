#include "image/guarded.h"

#include <fcntl.h>
#include <signal.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <cstdio>
#include <memory>
#include <new>

namespace debossier::image {

namespace {

void Limit(int resource, std::uint64_t most) {
  const rlimit limit{most, most};
  setrlimit(static_cast<__rlimit_resource>(resource), &limit);
}

#ifndef DEBOSSIER_SANITIZE
/// The address space that this process has by now; 0 where /proc does not say.
std::uint64_t AddressSpace() {
  unsigned long long pages = 0;
  const std::unique_ptr<std::FILE, int (*)(std::FILE*)> file(std::fopen("/proc/self/statm", "r"),
                                                             std::fclose);
  if (!file || std::fscanf(file.get(), "%llu", &pages) != 1) return 0;
  return pages * static_cast<std::uint64_t>(sysconf(_SC_PAGESIZE));
}
#endif

void LimitThisProcess(const GuardLimits& limits) {
  // An interrupt is the caller's to answer: it ends its photos in work.
  signal(SIGINT, SIG_IGN);
  for (const int ends : {SIGTERM, SIGALRM, SIGXCPU, SIGABRT, SIGSEGV}) signal(ends, SIG_DFL);
  sigset_t none;
  sigemptyset(&none);
  sigprocmask(SIG_SETMASK, &none, nullptr);
  prctl(PR_SET_PDEATHSIG, SIGKILL);
  Limit(RLIMIT_CORE, 0);
  Limit(RLIMIT_CPU, static_cast<std::uint64_t>(limits.seconds));
  alarm(static_cast<unsigned>(2 * limits.seconds));
#ifndef DEBOSSIER_SANITIZE
  // The address sanitizer reserves terabytes. Last words of a library that gives up are not ours.
  if (const std::uint64_t now = AddressSpace(); now > 0)
    Limit(RLIMIT_AS, now + limits.memory_bytes);
  if (const int nowhere = open("/dev/null", O_WRONLY); nowhere >= 0) dup2(nowhere, STDERR_FILENO);
#endif
}

}  // namespace

std::shared_ptr<std::uint8_t[]> RunGuarded(
    std::size_t size, const GuardLimits& limits,
    const std::function<bool(std::span<std::uint8_t>)>& work) {
  void* at = mmap(nullptr, size, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
  if (at == MAP_FAILED) throw std::bad_alloc();
  std::shared_ptr<std::uint8_t[]> shared(static_cast<std::uint8_t*>(at),
                                         [size](std::uint8_t* p) { munmap(p, size); });
  const pid_t child = fork();
  if (child < 0) throw std::bad_alloc();
  if (child == 0) {
    bool is_done = false;
    try {
      LimitThisProcess(limits);
      is_done = work({shared.get(), size});
    } catch (...) {
    }
    _exit(is_done ? 0 : 1);
  }
  int status = -1;
  while (waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  return WIFEXITED(status) && WEXITSTATUS(status) == 0 ? shared : nullptr;
}

}  // namespace debossier::image
