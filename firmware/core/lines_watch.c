/* SPDX-License-Identifier: MIT */
/* What happens at the lines once they drive: pulses, the watch over strong ones, discharge. */
#include "core/lines_inside.h"
#include "hal/adc.h"
#include "hal/clock.h"
#include "hal/ports.h"

#define PULSE_HALF_US 4       /* with the port write itself: some 5 us */
#define LOOK_AGAIN_US 10      /* a mismatch must last: 10 us is long against any RC here */
#define LOOKS 3

static void watch_octet(uint8_t part)
{
    struct octet now = octet(&lines.now, part);
    uint8_t index = (uint8_t)(8 * part);
    /* S against M of the same position is the host's wish, not contention. */
    uint8_t against = now.m_on & (now.m_high ^ now.s_high);
    uint8_t which = now.s_on & (uint8_t)~against;
    for (; which; index++, which >>= 1, now.s_high >>= 1) {
        if (!(which & 1))
            continue;
        const struct wiring_line *medium = &wiring_medium[index];
        lines.watched[medium->port] |= medium->mask;
        if (now.s_high & 1)
            lines.expected[medium->port] |= medium->mask;
    }
}

/* Done when looked, not when lines change: there the converter waits. */
static void recount(void)
{
    lines.watch_stale = false;
    for (uint8_t port = 0; port < WIRING_PORTS; port++)
        lines.watched[port] = lines.expected[port] = 0;
    for (uint8_t part = 0; part < OCTETS; part++)
        watch_octet(part);
}

void lines_pulse(uint8_t position, uint8_t count)
{
    const struct wiring_line *medium = &wiring_medium[position - 1], *strong = &wiring_strong[position - 1];
    uint8_t m = lines.ddr[medium->port] & medium->mask, s = lines.ddr[strong->port] & strong->mask;
    uint8_t m_out = lines.out[medium->port], s_out = lines.out[strong->port];
    for (; count; count--) {
        hal_port_out(medium->port, m, (uint8_t)~m_out);
        hal_port_out(strong->port, s, (uint8_t)~s_out);
        hal_wait_us(PULSE_HALF_US);
        hal_port_out(medium->port, m, m_out);
        hal_port_out(strong->port, s, s_out);
        hal_wait_us(PULSE_HALF_US);
    }
}

void lines_edge(uint8_t position, struct hal_edge *edge)
{
    const struct wiring_line *medium = &wiring_medium[position - 1], *strong = &wiring_strong[position - 1];
    uint8_t m = lines.ddr[medium->port] & medium->mask;
    uint8_t second = m != 0;      /* where M goes: what drives goes last, for the looks begin after the second */
    edge->port[second] = medium->port;
    edge->mask[second] = m;
    edge->port[1 - second] = strong->port;
    edge->mask[1 - second] = lines.ddr[strong->port] & strong->mask;
}

static uint8_t position_of(uint8_t port, uint8_t bits)
{
    for (uint8_t i = 0; i < WIRING_POSITIONS; i++)
        if (wiring_medium[i].port == port && (wiring_medium[i].mask & bits))
            return (uint8_t)(i + 1);
    return 0;
}

/* Watched pins of a port that are not as they should be.  M lines beside a
 * strong one are let go while the pins are read. */
static uint8_t look(uint8_t port, uint8_t which)
{
    uint8_t driven = which & lines.ddr[port];
    uint8_t levels;
    if (driven) {
        while (!hal_adc_holding())
            hal_wait_us(1);   /* < 80 us: a sample is not to be taken meanwhile; interrupts are */
        hal_port_ddr(port, driven, 0);
        hal_port_out(port, driven, 0);
        levels = hal_port_get(port);
        hal_port_out(port, driven, lines.out[port]);
        hal_port_ddr(port, driven, driven);
    } else {
        levels = hal_port_get(port);
    }
    return (levels ^ lines.expected[port]) & which;
}

static uint8_t watch_port(uint8_t port)
{
    uint8_t which = lines.watched[port];
    for (uint8_t looks = 1; which && (which = look(port, which)) != 0; looks++) {
        if (looks == LOOKS)
            return position_of(port, which);
        hal_wait_us(LOOK_AGAIN_US);
    }
    return 0;
}

uint8_t lines_watch(void (*between)(void))
{
    if (!lines.now.s_on)
        return 0;
    if (lines.watch_stale)
        recount();
    for (uint8_t port = 0; port < WIRING_PORTS; port++) {
        if (!lines.watched[port])
            continue;
        uint8_t position = watch_port(port);
        if (position)
            return position;
        between();
    }
    return 0;
}

void lines_discharge(void)
{
    lines_all_off();
    for (uint8_t port = 0; port < WIRING_PORTS; port++) {
        lines.ddr[port] = wiring_strong_mask[port];
        hal_port_ddr(port, wiring_strong_mask[port], wiring_strong_mask[port]);
    }
}

uint8_t lines_discharge_held(void)
{
    uint8_t first = 0;
    for (uint8_t i = WIRING_POSITIONS; i; i--) {
        const struct wiring_line *medium = &wiring_medium[i - 1], *strong = &wiring_strong[i - 1];
        if (!(lines.ddr[strong->port] & strong->mask) || !(hal_port_get(medium->port) & medium->mask))
            continue;
        hal_port_ddr(strong->port, strong->mask, 0);
        lines.ddr[strong->port] &= (uint8_t)~strong->mask;
        first = i;
    }
    return first;
}
