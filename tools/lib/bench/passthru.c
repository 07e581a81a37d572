/* Loaded before umockdev's library. That library hands every read and write of a made-up device to the process that made
 * it up, over a socket and back, which costs about a quarter of a millisecond; no kernel does that, so a latency
 * must not contain it. Here both are the plain system calls again; opening, ioctls and udev stay umockdev's. */
#define _GNU_SOURCE
#include <sys/syscall.h>
#include <unistd.h>

ssize_t read(int fd, void *to, size_t size) { return syscall(SYS_read, fd, to, size); }
ssize_t write(int fd, const void *from, size_t size) { return syscall(SYS_write, fd, from, size); }
