/* bench.h: a controller board (simulated or native) in the network, with its serial line.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef VIRTUAL_FIXTURE_BENCH_H
#define VIRTUAL_FIXTURE_BENCH_H

#include <stddef.h>
#include <stdint.h>

#include "network.h"

#define RING 65536
#define BAUD 500000.0
#define BYTE_S (10.0 / BAUD)
#define POLL_S 250e-6 /* how often the serial line is looked at, simulated */

struct ring {
    uint8_t data[RING];
    size_t head, tail; /* free-running; head - tail bytes are in it */
};

enum pace {
    PACE_BUSY, /* idle in real time, busy as fast as it goes */
    PACE_REAL, /* never faster than real time */
    PACE_FREE  /* no waiting at all: only for tests that hold the other end themselves */
};

struct bench;
struct board_ops {
    void (*run)(struct bench *, double until_s);
    void (*reset)(struct bench *);
    void (*spin)(struct bench *); /* the program hangs in a loop */
    void (*close)(struct bench *);
    uint64_t (*cycles)(const struct bench *);
    int (*stack_free)(const struct bench *); /* bytes never used; -1: not known */
    int (*peek)(const struct bench *, uint32_t address); /* a byte of data space, -1: none */
};

struct bench {
    struct network *net;
    const struct board_ops *ops;
    void *board;
    struct ring rx, tx; /* rx: host to device */
    int master, slave;  /* pty, -1 without */
    enum pace pace;
    double frozen_until;
    bool until_sent;    /* leave run() when the device has sent something */
    bool until_powered; /* leave run() when the chip's supply is switched on */
    uint64_t power_ups; /* before */
    double wall_end;    /* leave run() when the wall clock gets there */
    double anchor_wall, anchor_sim, idle_end;
    double heard_wall, heard_sim; /* when the host's last bytes came */
    bool held;     /* simulated time stands still until the host has spoken: see bench_await */
    double served; /* network time at which the pty was last looked at */
    uint64_t resets, bytes_in, bytes_out;
    int expected_resets;
    char trouble[96];   /* why the board stopped for good, or empty */
};

double wall_s(void);
bool bench_stop(const struct bench *b); /* until_sent or until_powered, and it has come */
size_t ring_count(const struct ring *r);
void ring_put(struct ring *r, uint8_t byte);
int ring_get(struct ring *r);
void bench_serve(struct bench *b);               /* move bytes between rings and pty */
void bench_idle(struct bench *b, double from, double seconds); /* the device sleeps so long */
void bench_busy(struct bench *b);                /* real-time pace: wait for the wall clock */
bool bench_await(struct bench *b);               /* wait for a host that must have been kept from speaking; false: wall_end came first */
int pty_open(struct bench *b, char *path, size_t size);
void pty_close(struct bench *b);

int board_simavr_open(struct bench *b, const char *elf, char *error, size_t size);
int board_pc_open(struct bench *b, const char *library, char *error, size_t size);

#endif
