/* Loaded before the program in a test: a file system like FAT, without hard links and without a
   rename that refuses to replace. */
#define _GNU_SOURCE
#include <errno.h>

int link(const char* from, const char* to) {
  (void)from;
  (void)to;
  errno = EPERM;
  return -1;
}

int renameat2(int from_folder, const char* from, int to_folder, const char* to, unsigned flags) {
  (void)from_folder;
  (void)from;
  (void)to_folder;
  (void)to;
  (void)flags;
  errno = EINVAL;
  return -1;
}
