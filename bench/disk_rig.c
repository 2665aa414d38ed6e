/* A disk that fails, for the campaigns of tests/records/rig.py: preloaded before the C library, it counts every call that
 * changes a watched folder, makes the n-th fail, and writes down what went to the disk and when it was made to stay.
 *
 * SQLite and Python both reach the disk through these calls, so one place serves the database, back-ups, drafts and
 * output files alike; Python alone could not get between SQLite and its file.  A PostgreSQL server is watched from its
 * start, in all its processes, by RIG_WATCH and RIG_LOG of its environment.  Built at run time:
 * cc -shared -fPIC -O1 -o rig.so disk_rig.c -ldl
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/types.h>
#include <sys/uio.h>
#include <unistd.h>

#define REAL(name) ({ static __typeof__(&name) real; if (!real) real = dlsym(RTLD_NEXT, #name); real; })
enum { MOST_FILES = 4096 };

static char watched[PATH_MAX]; /* the folder whose calls count */
static int log_to = -1;        /* where what happens is written down; -1: nowhere */
static long fail_at, counted;  /* the call that fails, 0: none; calls so far */
static int fail_with;          /* errno of the failure; 0: half of a write is written */
static int fail_on;            /* do all later calls fail too? */
static int fail_done;          /* has a call failed? */
static char failed_call[64];
static char *path_of[MOST_FILES];

void rig_watch(const char *folder, int log_fd) {
    snprintf(watched, sizeof watched, "%s", folder);
    log_to = log_fd;
    counted = 0;
    fail_at = 0;
    fail_done = 0;
    failed_call[0] = 0;
}

/* Many processes write one log: each entry is appended by one call, before the call it tells of returns. */
__attribute__((constructor)) static void from_the_start(void) {
    const char *folder = getenv("RIG_WATCH"), *log = getenv("RIG_LOG");
    if (folder && log) rig_watch(folder, REAL(open)(log, O_WRONLY | O_APPEND | O_CREAT, 0666));
}

void rig_fail(long at, int with, int on) {
    counted = 0;
    fail_at = at;
    fail_with = with;
    fail_on = on;
    fail_done = 0;
    failed_call[0] = 0;
}

long rig_counted(void) { return counted; }
const char *rig_failed(void) { return failed_call; }

static int is_watched(const char *path) {
    size_t length = strlen(watched);
    return length && path && !strncmp(path, watched, length) && (path[length] == '/' || path[length] == 0);
}

static const char *whole(const char *path, char *into) {
    if (path[0] == '/') return path;
    if (!getcwd(into, PATH_MAX)) return path;
    strncat(into, "/", PATH_MAX - strlen(into) - 1);
    strncat(into, path, PATH_MAX - strlen(into) - 1);
    return into;
}

static const char *of_fd(int fd) { return fd >= 0 && fd < MOST_FILES ? path_of[fd] : NULL; }

/* Shall this call fail? Sets errno. 2: a write is to be cut short. */
static int fails(const char *call, const char *path) {
    counted++;
    if (!fail_at || counted < fail_at || (counted > fail_at && !fail_on)) return 0;
    if (!fail_done) {
        const char *name = strrchr(path, '/');
        snprintf(failed_call, sizeof failed_call, "%s %s", call, name ? name + 1 : path);
        fail_done = 1;
    }
    if (!fail_with) {
        if (!strcmp(call, "write") && counted == fail_at) return 2;
        errno = ENOSPC;
        return 1;
    }
    errno = fail_with;
    return 1;
}

/* One entry: a letter, lengths of two texts, a place, a length of bytes; then texts and bytes. */
static void note(char what, const char *path, const char *other, int64_t at, const void *bytes, int64_t length) {
    if (log_to < 0) return;
    struct { char what; char pad[3]; int32_t first, second; int32_t pad2; int64_t at, length; } head = {0};
    head.what = what;
    head.first = (int32_t)strlen(path);
    head.second = other ? (int32_t)strlen(other) : 0;
    head.at = at;
    head.length = bytes ? length : 0;
    struct iovec parts[] = {
        {&head, sizeof head}, {(void *)path, (size_t)head.first}, {(void *)other, (size_t)head.second},
        {(void *)bytes, (size_t)head.length},
    };
    if (REAL(writev)(log_to, parts, 4) != (ssize_t)(sizeof head + head.first + head.second + head.length)) abort();
}

static int opened(int fd, const char *path, int flags, int was_there) {
    if (fd >= 0 && fd < MOST_FILES) {
        free(path_of[fd]);
        path_of[fd] = strdup(path);
        if (!was_there) note('C', path, NULL, 0, NULL, 0);
        else if (flags & O_TRUNC) note('T', path, NULL, 0, NULL, 0);
    }
    return fd;
}

#define OPENING(name)                                                                   \
    int name(const char *path, int flags, ...) {                                        \
        mode_t mode = 0;                                                                \
        if (flags & (O_CREAT | __O_TMPFILE)) {                                          \
            va_list more; va_start(more, flags); mode = va_arg(more, mode_t); va_end(more); \
        }                                                                               \
        char room[PATH_MAX] = ""; const char *full = whole(path, room);                 \
        if (!is_watched(full)) return REAL(name)(path, flags, mode);                    \
        int was_there = access(full, F_OK) == 0;                                        \
        if ((flags & O_ACCMODE) != O_RDONLY && fails("open", full)) return -1;          \
        return opened(REAL(name)(path, flags, mode), full, flags, was_there || !(flags & O_CREAT)); \
    }
OPENING(open)
OPENING(open64)

#define OPENING_AT(name)                                                                \
    int name(int place, const char *path, int flags, ...) {                             \
        mode_t mode = 0;                                                                \
        if (flags & (O_CREAT | __O_TMPFILE)) {                                          \
            va_list more; va_start(more, flags); mode = va_arg(more, mode_t); va_end(more); \
        }                                                                               \
        char room[PATH_MAX] = ""; const char *full = whole(path, room);                 \
        if ((place != AT_FDCWD && path[0] != '/') || !is_watched(full)) return REAL(name)(place, path, flags, mode); \
        int was_there = access(full, F_OK) == 0;                                        \
        if ((flags & O_ACCMODE) != O_RDONLY && fails("open", full)) return -1;          \
        return opened(REAL(name)(place, path, flags, mode), full, flags, was_there || !(flags & O_CREAT)); \
    }
OPENING_AT(openat)
OPENING_AT(openat64)

int close(int fd) {
    if (fd >= 0 && fd < MOST_FILES && path_of[fd]) {
        free(path_of[fd]);
        path_of[fd] = NULL;
    }
    return REAL(close)(fd);
}

ssize_t write(int fd, const void *bytes, size_t length) {
    const char *path = of_fd(fd);
    if (!path) return REAL(write)(fd, bytes, length);
    int how = fails("write", path);
    if (how == 1) return -1;
    if (how == 2) length = length > 1 ? length / 2 : length;
    off_t at = lseek(fd, 0, SEEK_CUR);
    if (fcntl(fd, F_GETFL) & O_APPEND) at = lseek(fd, 0, SEEK_END);
    ssize_t done = REAL(write)(fd, bytes, length);
    if (done > 0) note('W', path, NULL, at, bytes, done);
    return done;
}

#define WRITING_AT(name, offset)                                                        \
    ssize_t name(int fd, const void *bytes, size_t length, offset at) {                 \
        const char *path = of_fd(fd);                                                   \
        if (!path) return REAL(name)(fd, bytes, length, at);                            \
        int how = fails("write", path);                                                 \
        if (how == 1) return -1;                                                        \
        if (how == 2) length = length > 1 ? length / 2 : length;                        \
        ssize_t done = REAL(name)(fd, bytes, length, at);                               \
        if (done > 0) note('W', path, NULL, at, bytes, done);                           \
        return done;                                                                    \
    }
WRITING_AT(pwrite, off_t)
WRITING_AT(pwrite64, off64_t)

#define WRITING_PARTS(name, offset)                                                     \
    ssize_t name(int fd, const struct iovec *parts, int count, offset at) {             \
        const char *path = of_fd(fd);                                                   \
        if (!path) return REAL(name)(fd, parts, count, at);                             \
        if (fails("write", path)) return -1;                                            \
        ssize_t done = REAL(name)(fd, parts, count, at), left = done;                   \
        for (int i = 0; i < count && left > 0; i++) {                                   \
            ssize_t length = (ssize_t)parts[i].iov_len < left ? (ssize_t)parts[i].iov_len : left; \
            note('W', path, NULL, at, parts[i].iov_base, length);                       \
            at += length;                                                               \
            left -= length;                                                             \
        }                                                                               \
        return done;                                                                    \
    }
WRITING_PARTS(pwritev, off_t)
WRITING_PARTS(pwritev64, off64_t)

/* Room without bytes: not offered, so that zeros are written, and come by above. */
#define MAKING_ROOM(name, offset)                                                       \
    int name(int fd, offset at, offset length) {                                        \
        return of_fd(fd) ? EOPNOTSUPP : REAL(name)(fd, at, length);                     \
    }
MAKING_ROOM(posix_fallocate, off_t)
MAKING_ROOM(posix_fallocate64, off64_t)

/* Copying inside the kernel: not offered, so that the bytes come by above. */
ssize_t sendfile(int to, int from, off_t *at, size_t length) {
    (void)from; (void)at; (void)length;
    if (!of_fd(to)) { (void)0; }
    errno = ENOTSOCK;
    return -1;
}
ssize_t sendfile64(int to, int from, off64_t *at, size_t length) {
    (void)to; (void)from; (void)at; (void)length;
    errno = ENOTSOCK;
    return -1;
}
ssize_t copy_file_range(int from, off64_t *in, int to, off64_t *out, size_t length, unsigned flags) {
    (void)from; (void)in; (void)to; (void)out; (void)length; (void)flags;
    errno = EOPNOTSUPP;
    return -1;
}

#define SYNCING(name)                                                                   \
    int name(int fd) {                                                                  \
        const char *path = of_fd(fd);                                                   \
        if (!path) return REAL(name)(fd);                                               \
        if (fails("sync", path)) return -1;                                             \
        note('S', path, NULL, 0, NULL, 0); /* the real one only costs time here */      \
        return 0;                                                                       \
    }
SYNCING(fsync)
SYNCING(fdatasync)

#define CUTTING(name, offset)                                                           \
    int name(int fd, offset length) {                                                   \
        const char *path = of_fd(fd);                                                   \
        if (!path) return REAL(name)(fd, length);                                       \
        if (fails("truncate", path)) return -1;                                         \
        int done = REAL(name)(fd, length);                                              \
        if (!done) note('T', path, NULL, length, NULL, 0);                              \
        return done;                                                                    \
    }
CUTTING(ftruncate, off_t)
CUTTING(ftruncate64, off64_t)

int rename(const char *from, const char *to) {
    char one[PATH_MAX] = "", two[PATH_MAX] = "";
    const char *a = whole(from, one), *b = whole(to, two);
    if (!is_watched(a) && !is_watched(b)) return REAL(rename)(from, to);
    if (fails("rename", b)) return -1;
    int done = REAL(rename)(from, to);
    if (!done) note('R', a, b, 0, NULL, 0);
    return done;
}

int link(const char *from, const char *to) {
    char one[PATH_MAX] = "", two[PATH_MAX] = "";
    const char *a = whole(from, one), *b = whole(to, two);
    if (!is_watched(a) && !is_watched(b)) return REAL(link)(from, to);
    if (fails("link", b)) return -1;
    int done = REAL(link)(from, to);
    if (!done) note('L', a, b, 0, NULL, 0);
    return done;
}

#define ON_PATH(name, letter, call)                                                     \
    int name(const char *path) {                                                        \
        char room[PATH_MAX] = ""; const char *full = whole(path, room);                 \
        if (!is_watched(full)) return REAL(name)(path);                                 \
        if (fails(call, full)) return -1;                                               \
        int done = REAL(name)(path);                                                    \
        if (!done) note(letter, full, NULL, 0, NULL, 0);                                \
        return done;                                                                    \
    }
ON_PATH(unlink, 'U', "unlink")
ON_PATH(rmdir, 'D', "rmdir")

int unlinkat(int place, const char *path, int flags) {
    char full[PATH_MAX] = "";
    if (path[0] == '/') snprintf(full, sizeof full, "%s", path);
    else if (place == AT_FDCWD) { char room[PATH_MAX] = ""; snprintf(full, sizeof full, "%s", whole(path, room)); }
    else if (of_fd(place)) snprintf(full, sizeof full, "%s/%s", of_fd(place), path);
    if (!is_watched(full)) return REAL(unlinkat)(place, path, flags);
    if (fails("unlink", full)) return -1;
    int done = REAL(unlinkat)(place, path, flags);
    if (!done) note(flags & AT_REMOVEDIR ? 'D' : 'U', full, NULL, 0, NULL, 0);
    return done;
}

int mkdir(const char *path, mode_t mode) {
    char room[PATH_MAX] = ""; const char *full = whole(path, room);
    if (!is_watched(full)) return REAL(mkdir)(path, mode);
    if (fails("mkdir", full)) return -1;
    int done = REAL(mkdir)(path, mode);
    if (!done) note('M', full, NULL, 0, NULL, 0);
    return done;
}

void rig_acknowledge(const char *text) { note('A', text, NULL, 0, NULL, 0); }
