/* A wall clock that stands wrong by the seconds in the file SPYHOLE_TEST_CLOCK, for a program
   before which this is loaded. */
#define _GNU_SOURCE
#include <fcntl.h>
#include <stdlib.h>
#include <sys/syscall.h>
#include <time.h>
#include <unistd.h>

int clock_gettime(clockid_t clock, struct timespec *now) {
    int failed = syscall(SYS_clock_gettime, clock, now);
    const char *name = getenv("SPYHOLE_TEST_CLOCK");
    if (failed || clock != CLOCK_REALTIME || !name) return failed;
    int file = open(name, O_RDONLY | O_CLOEXEC);
    char text[32] = "";
    if (file >= 0) {
        if (read(file, text, sizeof text - 1) > 0) now->tv_sec += atoll(text);
        close(file);
    }
    return 0;
}
