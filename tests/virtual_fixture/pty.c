/* pty.c: the serial line as a pseudo-terminal, and the pace of simulated time.
 *
 * The slave side stays open here, so that a host may open and close the port as often
 * as it likes without the master seeing a hang-up.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <pty.h>
#include <stdio.h>
#include <string.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#include "bench.h"

#define AHEAD_S 0.5 /* by so much a working device may run ahead of a host that has not spoken since: a quarter of its lease; */
#define HELD_S 25e-3 /* while the chip is powered a host speaks each 10 ms: so far the device goes on after its last word, and waits, */
#define PATIENCE_S 1.5 /* but not longer than this by the wall clock: then it is silent, and not only kept from a processor */
#define LAG_S 20e-3 /* further behind the wall clock than this: forget it */

double wall_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + (double)t.tv_nsec * 1e-9;
}

size_t ring_count(const struct ring *r)
{
    return r->head - r->tail;
}

bool bench_stop(const struct bench *b)
{
    return (b->until_sent && b->tx.head != b->tx.tail) || (b->until_powered && b->net->power_ups != b->power_ups);
}

void ring_put(struct ring *r, uint8_t byte)
{
    if (ring_count(r) == RING) /* nobody listens: the oldest is lost, as on a wire */
        r->tail++;
    r->data[r->head++ % RING] = byte;
}

int ring_get(struct ring *r)
{
    return r->head == r->tail ? -1 : r->data[r->tail++ % RING];
}

int pty_open(struct bench *b, char *path, size_t size)
{
    struct termios raw;
    if (openpty(&b->master, &b->slave, NULL, NULL, NULL))
        return -errno;
    tcgetattr(b->slave, &raw);
    cfmakeraw(&raw);
    tcsetattr(b->slave, TCSANOW, &raw);
    fcntl(b->master, F_SETFL, fcntl(b->master, F_GETFL) | O_NONBLOCK);
    fcntl(b->master, F_SETFD, FD_CLOEXEC);
    fcntl(b->slave, F_SETFD, FD_CLOEXEC);
    return ttyname_r(b->slave, path, size) ? -errno : 0;
}

void pty_close(struct bench *b)
{
    if (b->master >= 0) {
        close(b->master);
        close(b->slave);
    }
    b->master = b->slave = -1;
}

void bench_serve(struct bench *b)
{
    b->served = b->net->now;
    if (b->master < 0)
        return;
    if (ring_count(&b->rx) < RING / 2) {
        uint8_t buffer[512];
        ssize_t n = read(b->master, buffer, sizeof buffer);
        for (ssize_t i = 0; i < n; i++)
            ring_put(&b->rx, buffer[i]);
        if (n > 0) {
            b->heard_wall = wall_s();
            b->heard_sim = b->net->now;
        }
    }
    while (ring_count(&b->tx)) {
        size_t at = b->tx.tail % RING, n = ring_count(&b->tx);
        if (at + n > RING)
            n = RING - at;
        ssize_t done = write(b->master, b->tx.data + at, n);
        if (done <= 0)
            break;
        b->tx.tail += (size_t)done;
    }
}

/* A host that is alive has spoken by now, had it been let run. */
static bool is_held(const struct bench *b)
{
    return b->pace == PACE_BUSY && b->master >= 0 && ring_count(&b->rx) == 0 && network_powered(b->net) &&
           b->net->now - b->heard_sim > HELD_S && wall_s() - b->heard_wall < PATIENCE_S;
}

/* Until then, or until the host has sent something; true if it has. */
static bool wait_until(struct bench *b, double wall)
{
    double left = fmax(0, wall - wall_s());
    struct timespec t = {(time_t)left, (long)((left - (double)(time_t)left) * 1e9)};
    struct pollfd p = {.fd = b->master, .events = POLLIN};
    return ppoll(&p, b->master >= 0 && ring_count(&b->rx) == 0, &t, NULL) > 0;
}

bool bench_await(struct bench *b)
{
    while (is_held(b)) {
        double until = b->heard_wall + PATIENCE_S;
        bool all = b->wall_end > 0 && b->wall_end < until;
        wait_until(b, all ? b->wall_end : until);
        bench_serve(b);
        if (all && wall_s() >= b->wall_end)
            break;
    }
    b->held = is_held(b);
    return !b->held;
}

/* Time in which the device works does not count: only while it sleeps is simulated
 * time held to the wall clock.  A host and a sleeping device thus agree about time. */
void bench_idle(struct bench *b, double from, double seconds)
{
    double wall;
    if (ring_count(&b->tx))
        bench_serve(b);
    if (b->pace == PACE_FREE || ring_count(&b->rx))
        return;
    wall = wall_s();
    bool worked = b->pace == PACE_BUSY && from - b->idle_end > 2 * POLL_S;
    double due = b->anchor_wall + (from - b->anchor_sim);
    if (worked || wall - due > LAG_S || b->anchor_wall == 0) {
        b->anchor_wall = wall;
        b->anchor_sim = from;
        due = wall;
    }
    b->idle_end = from + seconds;
    if (wait_until(b, due + seconds))
        bench_serve(b);
    b->served = b->net->now;
}

void bench_busy(struct bench *b)
{
    double wall = wall_s(), due = b->anchor_wall + (b->net->now - b->anchor_sim);
    b->held = is_held(b);
    if (b->pace == PACE_BUSY && b->master >= 0) {
        double ahead = (b->net->now - b->heard_sim) - (wall - b->heard_wall) - AHEAD_S;
        if (ahead > 0.2e-3)
            wait_until(b, wall + ahead);
    }
    if (b->pace != PACE_REAL)
        return;
    if (b->anchor_wall == 0 || wall - due > LAG_S) {
        b->anchor_wall = wall;
        b->anchor_sim = b->net->now;
    } else if (due - wall > 0.2e-3) {
        wait_until(b, due);
    }
}
