/* SPDX-License-Identifier: MIT */
/* A disk that fails: loaded before the C library (LD_PRELOAD), it lets so many writing calls pass and refuses the rest.
   disk_fails(after, error): from the call after that many on, each gives this errno; error 0: the disk is well again.
   disk_calls(): how many writing calls there have been since.
   disk_refuses(error): opening for writing gives this errno, as on a file system that may only be read; 0: no more. */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <sys/types.h>
#include <unistd.h>

static long left, calls;
static int wrong, closed;

void disk_fails(long after, int error) { left = after; wrong = error; calls = 0; }
long disk_calls(void) { return calls; }
void disk_refuses(int error) { closed = error; }

static int refused(int fd)
{
    if (fd <= 2)
        return 0;
    calls++;
    if (!wrong || left-- > 0)
        return 0;
    errno = wrong;
    return 1;
}

#define REAL(name) (real ? real : (real = dlsym(RTLD_NEXT, #name)))

ssize_t write(int fd, const void *data, size_t size)
{
    static ssize_t (*real)(int, const void *, size_t);
    return refused(fd) ? -1 : REAL(write)(fd, data, size);
}

ssize_t pwrite(int fd, const void *data, size_t size, off_t at)
{
    static ssize_t (*real)(int, const void *, size_t, off_t);
    return refused(fd) ? -1 : REAL(pwrite)(fd, data, size, at);
}

ssize_t pwrite64(int fd, const void *data, size_t size, off64_t at)
{
    static ssize_t (*real)(int, const void *, size_t, off64_t);
    return refused(fd) ? -1 : REAL(pwrite64)(fd, data, size, at);
}

int fsync(int fd)
{
    static int (*real)(int);
    return refused(fd) ? -1 : REAL(fsync)(fd);
}

int fdatasync(int fd)
{
    static int (*real)(int);
    return refused(fd) ? -1 : REAL(fdatasync)(fd);
}

static int opened(const char *name, const char *path, int flags, mode_t mode)
{
    if (closed && (flags & O_ACCMODE) != O_RDONLY) {
        errno = closed;
        return -1;
    }
    return ((int (*)(const char *, int, ...))dlsym(RTLD_NEXT, name))(path, flags, mode);
}

#define OPEN(name)                                                      \
    int name(const char *path, int flags, ...)                          \
    {                                                                   \
        va_list more;                                                   \
        va_start(more, flags);                                          \
        mode_t mode = flags & O_CREAT ? (mode_t)va_arg(more, int) : 0;  \
        va_end(more);                                                   \
        return opened(#name, path, flags, mode);                        \
    }
OPEN(open)
OPEN(open64)
