/* SPDX-License-Identifier: MIT */
/* The firmware's core on a bench whose every reading is a fingerprint of what the firmware has switched: ports, register
 * chain, level drive, channel and reference.  A step that was lost, doubled, out of order or of other bits shows in the
 * readings.  Driven by device.py through ctypes; one device a process. */
#include <stddef.h>
#include <string.h>

#include "gen/wiring.h"
#include "port_pc/port_pc.h"

#define RELEASE_NS 37000000u /* OE_N goes high so long after PUMP stood still */

static uint8_t ddr[WIRING_PORTS], out[WIRING_PORTS], chain[3], latched[3], sent[1 << 16];
static uint32_t sent_count;
static uint16_t duty;
static uint64_t pumped_at;
static bool whole; /* a frame's last byte is among those sent */

static void on_port(void *c, uint8_t port, uint8_t d, uint8_t o)
{
    (void)c;
    if (port == WIRING_PUMP_PORT && ((out[port] ^ o) >> WIRING_PUMP_BIT & 1))
        pumped_at = port_pc_now_ns();
    ddr[port] = d;
    out[port] = o;
}

static uint8_t on_pins(void *c, uint8_t port, uint8_t d, uint8_t o)
{
    (void)c;
    (void)d;
    if (port == WIRING_OE_N_PORT && port_pc_now_ns() - pumped_at < RELEASE_NS)
        o &= (uint8_t) ~(1u << WIRING_OE_N_BIT);
    else if (port == WIRING_OE_N_PORT)
        o |= 1u << WIRING_OE_N_BIT;
    return o;
}

static void on_shift(void *c, const uint8_t bytes[3], uint8_t back[3])
{
    (void)c;
    memcpy(back, chain, 3);
    memcpy(chain, bytes, 3);
}

static void on_latch(void *c)
{
    (void)c;
    memcpy(latched, chain, 3);
}

static void on_pwm(void *c, uint16_t d)
{
    (void)c;
    duty = d;
}

static void on_tx(void *c, uint8_t byte)
{
    (void)c;
    if (sent_count < sizeof sent)
        sent[sent_count++] = byte;
    whole |= byte == 0;
}

/* FNV-1a (Fowler, Noll, Vo; RFC 9923) of all that is switched, folded to ten bits. */
static uint16_t on_sample(void *c, uint8_t channel, uint8_t refs)
{
    uint32_t h = 2166136261u;
    (void)c;
#define MIX(byte) (h = (h ^ (uint8_t)(byte)) * 16777619u)
    for (uint8_t port = 0; port < WIRING_PORTS; port++) {
        uint8_t mask = 0xFF;
        if (port == WIRING_PUMP_PORT)
            mask &= (uint8_t) ~(1u << WIRING_PUMP_BIT);
        if (port == WIRING_LAMP_PORT)
            mask &= (uint8_t) ~(1u << WIRING_LAMP_BIT);
        MIX(ddr[port] & mask);
        MIX(out[port] & ddr[port] & mask);
    }
    for (int i = 0; i < 3; i++)
        MIX(latched[i]);
    MIX(duty);
    MIX(duty >> 8);
    MIX(channel);
    MIX(refs);
    return (uint16_t)((h ^ h >> 10 ^ h >> 20) & 1023);
}

static const struct port_pc_world world = {NULL, on_port, on_pins, on_shift, on_latch, on_sample, on_pwm, NULL, on_tx};

void device_start(void)
{
    sent_count = 0;
    whole = false;
    port_pc_reset(&world, 1);
}

double device_now(void)
{
    return (double)port_pc_now_ns() * 1e-9;
}

void device_put(const uint8_t *bytes, uint32_t count)
{
    port_pc_rx(bytes, count);
}

/* Until that moment, or (`stop`) until a frame is sent. */
void device_run(double until_s, bool stop)
{
    while (device_now() < until_s && !(stop && whole))
        port_pc_poll();
}

/* What has been sent since the last call, at most as much as `to` holds. */
uint32_t device_take(uint8_t *to)
{
    uint32_t count = sent_count;
    memcpy(to, sent, count);
    sent_count = 0;
    whole = false;
    return count;
}
