/* A disk that forgets, fails, fills and stalls: preloaded into a daemon under test.

   DISK_OF names a folder; what is synced of the files in it is copied to DISK_AS_SYNCED, which thereby holds at any time
   what a power cut would leave if nothing unsynced had reached the disk. A file `fault` there says what goes wrong next:
   "eio" (a sync fails; "once eio": one does), "full" (a write fails), "stall N" (the next sync takes N seconds, once). A file `wall` there holds
   seconds to add to the wall clock. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

static const char *name_within(int fd, char *path)
{
    char link[64];
    const char *of = getenv("DISK_OF");
    if (!of) return NULL;
    snprintf(link, sizeof link, "/proc/self/fd/%d", fd);
    ssize_t n = readlink(link, path, PATH_MAX - 1);
    if (n <= 0) return NULL;
    path[n] = 0;
    size_t of_n = strlen(of);
    if (strncmp(path, of, of_n) || path[of_n] != '/' || strchr(path + of_n + 1, '/')) return NULL;
    return path + of_n + 1;
}

static int fault(const char *which, double *seconds)
{
    char path[PATH_MAX], text[64] = "";
    snprintf(path, sizeof path, "%s/fault", getenv("DISK_AS_SYNCED"));
    int fd = open(path, O_RDONLY);
    if (fd < 0) return 0;
    ssize_t n = read(fd, text, sizeof text - 1);
    close(fd);
    if (n <= 0 || strncmp(text, which, strlen(which))) return 0;
    if (seconds) { *seconds = atof(text + strlen(which)); unlink(path); }
    return 1;
}

static void copy_as_synced(int fd, const char *name)
{
    static char block[1 << 16];
    char beside[PATH_MAX], whole[PATH_MAX];
    const char *to = getenv("DISK_AS_SYNCED");
    snprintf(beside, sizeof beside, "%s/.%s.new", to, name);
    snprintf(whole, sizeof whole, "%s/%s", to, name);
    int out = open(beside, O_WRONLY | O_CREAT | O_TRUNC, 0600);
    if (out < 0) return;
    off_t at = 0;
    ssize_t n;
    while ((n = pread(fd, block, sizeof block, at)) > 0) { if (write(out, block, n) != n) break; at += n; }
    close(out);
    rename(beside, whole);
}

static int synced(int fd, const char *which)
{
    char path[PATH_MAX];
    double seconds = 0;
    int (*real)(int) = (int (*)(int))dlsym(RTLD_NEXT, which);
    const char *name = name_within(fd, path);
    if (name && fault("eio", NULL)) { errno = EIO; return -1; }
    if (name && fault("once eio", &seconds)) { errno = EIO; return -1; }
    if (name && fault("stall", &seconds)) {
        struct timespec t = {(time_t)seconds, (long)((seconds - (time_t)seconds) * 1e9)};
        nanosleep(&t, NULL);
    }
    int done = real(fd);
    if (!done && name) copy_as_synced(fd, name);
    return done;
}

int unlink(const char *path)
{
    int (*real)(const char *) = (int (*)(const char *))dlsym(RTLD_NEXT, "unlink");
    const char *of = getenv("DISK_OF");
    int done = real(path);
    if (!done && of && !strncmp(path, of, strlen(of)) && path[strlen(of)] == '/') {
        char copy[PATH_MAX];
        snprintf(copy, sizeof copy, "%s%s", getenv("DISK_AS_SYNCED"), path + strlen(of));
        real(copy);
    }
    return done;
}

int clock_gettime(clockid_t clock, struct timespec *t)
{
    int (*real)(clockid_t, struct timespec *) =
        (int (*)(clockid_t, struct timespec *))dlsym(RTLD_NEXT, "clock_gettime");
    int done = real(clock, t);
    const char *as_synced = getenv("DISK_AS_SYNCED");
    if (!done && clock == CLOCK_REALTIME && as_synced) {
        char path[PATH_MAX], text[32] = "";
        snprintf(path, sizeof path, "%s/wall", as_synced);
        int fd = open(path, O_RDONLY);
        if (fd >= 0) {
            if (read(fd, text, sizeof text - 1) > 0) t->tv_sec += atol(text);
            close(fd);
        }
    }
    return done;
}

int fsync(int fd) { return synced(fd, "fsync"); }
int fdatasync(int fd) { return synced(fd, "fdatasync"); }

ssize_t pwrite64(int fd, const void *data, size_t n, off64_t at)
{
    char path[PATH_MAX];
    ssize_t (*real)(int, const void *, size_t, off64_t) =
        (ssize_t(*)(int, const void *, size_t, off64_t))dlsym(RTLD_NEXT, "pwrite64");
    if (name_within(fd, path) && fault("full", NULL)) { errno = ENOSPC; return -1; }
    return real(fd, data, n, at);
}

ssize_t pwrite(int fd, const void *data, size_t n, off_t at) { return pwrite64(fd, data, n, at); }
