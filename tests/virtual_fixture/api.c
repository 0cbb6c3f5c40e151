/* api.c: what Python calls.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>

#include "bench.h"

#define API __attribute__((visibility("default")))

API size_t vf_specimen_size(void)
{
    return sizeof(struct specimen);
}

/* image: an .elf for kind 0 (simavr), a shared library for kind 1 (native); NULL: the
 * network alone.  Returns NULL and a sentence in `error` if that fails. */
API struct bench *vf_open(const struct specimen *specimen, int kind, const char *image, char *error, size_t size)
{
    struct bench *b = calloc(1, sizeof *b);
    b->master = b->slave = -1;
    b->net = network_new(specimen);
    prctl(PR_SET_TIMERSLACK, 1000);
    if (image && (kind ? board_pc_open(b, image, error, size) : board_simavr_open(b, image, error, size))) {
        network_free(b->net);
        free(b);
        return NULL;
    }
    return b;
}

API void vf_close(struct bench *b)
{
    if (b->ops)
        b->ops->close(b);
    pty_close(b);
    network_free(b->net);
    free(b);
}

/* Run to network time `until_s`, but not longer than wall_s seconds of wall clock
 * (0: no such limit).  Returns the network time reached. */
API double vf_run(struct bench *b, double until_s, double wall_limit_s)
{
    b->wall_end = wall_limit_s > 0 ? wall_s() + wall_limit_s : 0;
    if (b->ops)
        b->ops->run(b, until_s);
    else
        network_advance(b->net, until_s);
    network_look(b->net, b->net->now);
    network_bring_up(b->net);
    return b->net->now;
}

API size_t vf_read(struct bench *b, uint8_t *data, size_t most)
{
    size_t n = 0;
    while (n < most && ring_count(&b->tx))
        data[n++] = (uint8_t)ring_get(&b->tx);
    return n;
}

/* Run until the device has sent something, for patience_s at most, then latency_s more; returns bytes sent. */
API size_t vf_listen(struct bench *b, double patience_s, double latency_s, uint8_t *data, size_t most)
{
    b->until_sent = true;
    vf_run(b, b->net->now + patience_s, 0);
    b->until_sent = false;
    if (ring_count(&b->tx) && latency_s > 0)
        vf_run(b, b->net->now + latency_s, 0);
    return vf_read(b, data, most);
}

API int vf_pty(struct bench *b, char *path, size_t size)
{
    return pty_open(b, path, size);
}

API double vf_now(const struct bench *b)
{
    return b->net->now;
}

API void vf_pace(struct bench *b, int pace)
{
    b->pace = (enum pace)pace;
}

API void vf_write(struct bench *b, const uint8_t *data, size_t n)
{
    for (size_t i = 0; i < n; i++)
        ring_put(&b->rx, data[i]);
}

API void vf_reset(struct bench *b)
{
    if (b->ops)
        b->ops->reset(b);
}

API void vf_spin(struct bench *b)
{
    if (b->ops)
        b->ops->spin(b);
}

API void vf_freeze(struct bench *b, double seconds)
{
    b->frozen_until = b->net->now + seconds;
}

API void vf_specimen(struct bench *b, const struct specimen *specimen)
{
    network_specimen(b->net, specimen, b->net->now);
}

API void vf_usb(struct bench *b, double volts)
{
    network_set_usb(b->net, volts, b->net->now);
}

/* Leave vf_run when the chip is powered next; vf_power_ups counts that. */
API void vf_until_powered(struct bench *b, int on)
{
    b->until_powered = on;
    b->power_ups = b->net->power_ups;
}

API uint64_t vf_power_ups(const struct bench *b)
{
    return b->net->power_ups;
}

API void vf_button(struct bench *b, int pressed)
{
    b->net->button = pressed;
}

API void vf_disable_trip(struct bench *b, int off)
{
    b->net->trip_disabled = off;
    network_refresh(b->net, b->net->now);
}

/* ops NULL: the functions of chip.h; chip NULL: empty socket. */
API int vf_chip(struct bench *b, const struct chip_ops *ops, struct chip *chip)
{
    if (chip && !ops && !chip_ops_linked.currents)
        return -1;
    network_chip(b->net, chip ? (ops ? ops : &chip_ops_linked) : NULL, chip);
    return 0;
}

/* ---------------------------------------------------------------- the controller's side, for tests without one */

API void vf_port(struct bench *b, int port, int ddr, int out)
{
    network_port(b->net, port, (uint8_t)ddr, (uint8_t)out, b->net->now);
}

API int vf_shift(struct bench *b, int byte)
{
    return network_shift(b->net, (uint8_t)byte, b->net->now);
}

API int vf_pins(struct bench *b, int port)
{
    return network_pins(b->net, port, b->net->now);
}

API void vf_duty(struct bench *b, double duty)
{
    network_duty(b->net, duty, b->net->now);
}

API int vf_convert(struct bench *b, int channel, int reference, double acquire_s)
{
    return network_convert(b->net, channel, reference, acquire_s, b->net->now);
}

/* ---------------------------------------------------------------- truth */

API double vf_node(const struct bench *b, int node, int settled)
{
    return settled ? b->net->target[node] : network_node(b->net, node, b->net->now);
}

API double vf_tau(const struct bench *b, int node)
{
    return b->net->tau[node];
}

API double vf_pin_v(const struct bench *b, int pin)
{
    return network_pin_v(b->net, pin, b->net->now);
}

API double vf_pin_a(const struct bench *b, int pin)
{
    return network_pin_a(b->net, pin, b->net->target);
}

API double vf_icc_v(const struct bench *b)
{
    return network_icc_v(b->net, b->net->target[N_VBUS], b->net->target[N_V5]);
}

API int vf_enabled(const struct bench *b)
{
    return deadman_enabled(b->net);
}

API void vf_drive(const struct bench *b, struct drive *d)
{
    *d = b->net->drive;
}

struct vf_figures {
    double now_s, longest_short_s, peak_pin_a, peak_group_a[GROUPS], peak_total_a, alive_v;
    uint64_t cycles, solves, iterations, asked, skipped, oscillating, unsolved, conversions, resets, bytes_in, bytes_out;
    int32_t stack_free;
    uint32_t violations;
};

API void vf_figures(const struct bench *b, struct vf_figures *f)
{
    const struct network *n = b->net;
    *f = (struct vf_figures){.now_s = n->now, .longest_short_s = n->watch.longest_short_s,
                             .peak_pin_a = n->watch.peak_pin_a, .peak_total_a = n->watch.peak_total_a,
                             .alive_v = n->deadman.alive_v, .cycles = b->ops ? b->ops->cycles(b) : 0,
                             .solves = n->solves, .iterations = n->iterations, .asked = n->asked, .skipped = n->skipped,
                             .oscillating = n->oscillating, .unsolved = n->unsolved,
                             .conversions = n->adc.conversions, .resets = b->resets, .bytes_in = b->bytes_in,
                             .bytes_out = b->bytes_out, .stack_free = b->ops ? b->ops->stack_free(b) : -1,
                             .violations = n->watch.count};
    memcpy(f->peak_group_a, n->watch.peak_group_a, sizeof f->peak_group_a);
}

API void vf_rails(const struct bench *b, struct rails *r)
{
    *r = b->net->watch.rails;
}

API int vf_violation(const struct bench *b, uint32_t n, struct violation *v)
{
    if (n >= b->net->watch.count || n >= VIOLATIONS)
        return -1;
    *v = b->net->watch.list[n];
    return 0;
}

API void vf_forgive(struct bench *b)
{
    b->net->watch.count = 0;
}

API int vf_peek(const struct bench *b, uint32_t address)
{
    return b->ops ? b->ops->peek(b, address) : -1;
}

API const char *vf_trouble(const struct bench *b)
{
    return b->trouble;
}
