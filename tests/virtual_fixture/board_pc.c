/* board_pc.c: the firmware's core built for this machine, in its own virtual time.
 *
 * The library keeps one device in static variables; each board gets a copy of its own
 * by loading the file through a memory file.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include "../../firmware/port_pc/port_pc.h"
#include "bench.h"

struct pc_board {
    void *library;
    int file; /* stays open: its number makes the path, and by the path the loader knows a library */
    double zero_s; /* network time minus the library's */
    double served;
    struct port_pc_world world;
    void (*reset)(const struct port_pc_world *, uint8_t);
    bool (*poll)(void);
    void (*rx)(const uint8_t *, uint32_t);
    uint64_t (*now_ns)(void);
};

static struct pc_board *board(const struct bench *b)
{
    return b->board;
}

static double now(const struct bench *b)
{
    return (double)board(b)->now_ns() * 1e-9 + board(b)->zero_s;
}

static void on_port(void *context, uint8_t port, uint8_t ddr, uint8_t out)
{
    struct bench *b = context;
    network_port(b->net, port, ddr, out, now(b));
}

static uint8_t on_pins(void *context, uint8_t port, uint8_t ddr, uint8_t out)
{
    struct bench *b = context;
    (void)ddr;
    (void)out;
    return network_pins(b->net, port, now(b));
}

static void on_shift(void *context, const uint8_t bytes[3], uint8_t back[3])
{
    struct bench *b = context;
    for (int i = 0; i < 3; i++)
        back[i] = network_shift(b->net, bytes[i], now(b));
}

static void on_latch(void *context)
{
    struct bench *b = context;
    network_latch(b->net, now(b));
}

static uint16_t on_sample(void *context, uint8_t channel, uint8_t refs)
{
    struct bench *b = context;
    return (uint16_t)network_convert(b->net, channel, refs, 1.5 / 125e3, now(b));
}

static void on_pwm(void *context, uint16_t duty)
{
    struct bench *b = context;
    /* fast PWM: one count more than the register says, and the pin is let go at 0 */
    network_duty(b->net, duty / 1024.0, now(b));
}

static void on_advance(void *context, uint64_t now_ns)
{
    struct bench *b = context;
    double t = (double)now_ns * 1e-9 + board(b)->zero_s;
    if (t < b->net->wake)
        b->net->now = larger(t, b->net->now); /* as network_advance() would, hundreds of thousands of times a sweep */
    else
        network_advance(b->net, t);
}

static void on_tx(void *context, uint8_t byte)
{
    struct bench *b = context;
    ring_put(&b->tx, byte);
    b->bytes_out++;
}

static void feed(struct bench *b)
{
    uint8_t bytes[64];
    uint32_t n = 0;
    while (n < sizeof bytes && ring_count(&b->rx))
        bytes[n++] = (uint8_t)ring_get(&b->rx);
    if (n)
        board(b)->rx(bytes, n);
    b->bytes_in += n;
}

static void run(struct bench *b, double until)
{
    struct pc_board *s = board(b);
    unsigned turn = 0;
    while (now(b) < until && !bench_stop(b)) {
        if (b->frozen_until > 0) {
            double to = b->frozen_until < until ? b->frozen_until : until, from = now(b);
            network_advance(b->net, to > from ? to : from);
            s->zero_s += to > from ? to - from : 0;
            if (b->frozen_until <= until)
                b->frozen_until = 0;
            continue;
        }
        if (b->held && !bench_await(b))
            break;
        double from = now(b);
        if (from - s->served > POLL_S) {
            bench_serve(b);
            bench_busy(b);
            s->served = from;
        }
        feed(b);
        if (s->poll())
            bench_idle(b, from, now(b) - from);
        if (++turn % 64 == 0 && b->wall_end > 0 && wall_s() > b->wall_end)
            break;
    }
    network_advance(b->net, now(b));
    bench_serve(b);
}

static void reset(struct bench *b)
{
    uint8_t off[PORTS] = {0};
    network_ports(b->net, off, off, now(b));
    b->resets++;
    board(b)->reset(&board(b)->world, 2);
}

/* There is no program counter to hang: the clock stands still until the watchdog would bite. */
static void spin(struct bench *b)
{
    b->frozen_until = now(b) + 60e-3;
    network_advance(b->net, now(b));
}

static void close_board(struct bench *b)
{
    dlclose(board(b)->library);
    close(board(b)->file);
    free(board(b));
}

static uint64_t cycles(const struct bench *b)
{
    return (uint64_t)(b->net->now * 16e6);
}

static int stack_free(const struct bench *b)
{
    (void)b;
    return -1;
}

static int peek(const struct bench *b, uint32_t address)
{
    (void)b;
    (void)address;
    return -1;
}

static const struct board_ops pc_ops = {run, reset, spin, close_board, cycles, stack_free, peek};

/* A private copy of the library file, as a descriptor; -1 if it cannot be read. */
static int copy(const char *library)
{
    struct stat st;
    int from = open(library, O_RDONLY | O_CLOEXEC), to = memfd_create("sagbench_pc", MFD_CLOEXEC);
    if (from < 0 || to < 0 || fstat(from, &st))
        return -1;
    while (st.st_size > 0) {
        char part[65536];
        ssize_t n = read(from, part, sizeof part);
        if (n <= 0 || write(to, part, (size_t)n) != n)
            return -1;
        st.st_size -= n;
    }
    close(from);
    return to;
}

int board_pc_open(struct bench *b, const char *library, char *error, size_t size)
{
    struct pc_board *s = calloc(1, sizeof *s);
    char path[64];
    int file = copy(library);
    b->board = s;
    snprintf(path, sizeof path, "/proc/self/fd/%d", file);
    s->library = file < 0 ? NULL : dlopen(path, RTLD_NOW | RTLD_LOCAL);
    s->file = file;
    if (s->library) {
        *(void **)&s->reset = dlsym(s->library, "port_pc_reset");
        *(void **)&s->poll = dlsym(s->library, "port_pc_poll");
        *(void **)&s->rx = dlsym(s->library, "port_pc_rx");
        *(void **)&s->now_ns = dlsym(s->library, "port_pc_now_ns");
    }
    if (!s->reset || !s->poll || !s->rx || !s->now_ns) {
        snprintf(error, size, "%s cannot be loaded as the native firmware (%s); build it with `make -C firmware`",
                 library, s->library ? "a function is missing" : "no library");
        if (file >= 0)
            close(file);
        free(s);
        return -1;
    }
    s->world = (struct port_pc_world){b, on_port, on_pins, on_shift, on_latch, on_sample, on_pwm, on_advance, on_tx};
    s->zero_s = -(double)s->now_ns() * 1e-9;
    b->ops = &pc_ops;
    s->reset(&s->world, 1);
    return 0;
}
