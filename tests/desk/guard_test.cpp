// Who may speak to the desk. Header forms by RFC 9110 (Host, 7.2), RFC 6454 (Origin, 7) and RFC
// 6265 (Cookie, 4.2).
#include "desk/guard.h"

#include <gtest/gtest.h>

namespace debossier::desk {
namespace {

TEST(Guard, KnowsTheLoopbackByItsNamesAndPort) {
  for (const char* host : {"127.0.0.1:8123", "localhost:8123", "[::1]:8123"}) {
    EXPECT_TRUE(IsLoopbackHost(host, 8123)) << host;
    EXPECT_TRUE(IsOwnOrigin(std::string("http://") + host, 8123)) << host;
    EXPECT_FALSE(IsLoopbackHost(host, 8124)) << host;
    EXPECT_FALSE(IsOwnOrigin(std::string("https://") + host, 8123)) << host;
  }
  for (const char* host : {"", "127.0.0.1", "localhost", "127.0.0.1:8123.evil.example",
                           "evil.example:8123", "127.0.0.1:8123 ", "localhost.evil.example:8123"}) {
    EXPECT_FALSE(IsLoopbackHost(host, 8123)) << host;
    EXPECT_FALSE(IsOwnOrigin(std::string("http://") + host, 8123)) << host;
  }
  EXPECT_FALSE(IsOwnOrigin("null", 8123));
  EXPECT_FALSE(IsOwnOrigin("", 8123));
}

TEST(Guard, SecretsAreLongAndDiffer) {
  const auto one = RandomSecret(), other = RandomSecret();
  ASSERT_TRUE(one && other);
  EXPECT_EQ(one->size(), 64u);
  EXPECT_NE(*one, *other);
  EXPECT_TRUE(SameSecret(*one, *one));
  EXPECT_FALSE(SameSecret(*one, *other));
  EXPECT_FALSE(SameSecret(*one, one->substr(1)));
  EXPECT_FALSE(SameSecret("", ""));
}

TEST(Guard, CookiesAreFoundByTheirWholeName) {
  EXPECT_EQ(CookieNamed("debossier", "debossier=abc"), "abc");
  EXPECT_EQ(CookieNamed("debossier", "a=1; debossier=abc; b=2"), "abc");
  EXPECT_EQ(CookieNamed("debossier", "xdebossier=abc; debossierx=1"), "");
  EXPECT_EQ(CookieNamed("debossier", "debossier"), "");
  EXPECT_EQ(CookieNamed("debossier", ""), "");
  EXPECT_EQ(CookieNamed("debossier", ";;; ;debossier=;"), "");
}

}  // namespace
}  // namespace debossier::desk
