/* controller.c: what the controller does to the network: ports, register chain, level drive.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <math.h>
#include <string.h>

#include "network.h"

static void latch(struct network *net)
{
    net->chain_turned |= memcmp(net->chain.latch, net->chain.shift, sizeof net->chain.latch) != 0;
    memcpy(net->chain.latch, net->chain.shift, sizeof net->chain.latch);
}

static void clock_chain(struct network *net)
{
    const struct specimen *sp = &net->sp;
    bool clock = network_line(net, sp->ser_clk_pin) == LINE_HIGH;
    bool strobe = network_line(net, sp->latch_pin) == LINE_HIGH;
    if (clock && !net->chain.clock)
        chain_bit(net, network_line(net, sp->ser_out_pin) == LINE_HIGH);
    if (strobe && !net->chain.strobe)
        latch(net);
    net->chain.clock = clock;
    net->chain.strobe = strobe;
}

static void pump(struct network *net)
{
    enum line s = network_line(net, net->sp.pump_pin);
    if (s == LINE_HIGH || s == LINE_LOW)
        deadman_pump(net, s == LINE_HIGH, net->now);
}

void network_ports(struct network *net, const uint8_t ddr[PORTS], const uint8_t out[PORTS], double t)
{
    network_advance(net, t);
    memcpy(net->ddr, ddr, PORTS);
    memcpy(net->out, out, PORTS);
    memset(net->look, 0, sizeof net->look);
    net->ports_turned = true;
    watch_ports(net);
    clock_chain(net);
    pump(net);
    network_apply(net, false);
    network_reschedule(net);
}

void network_port(struct network *net, int port, uint8_t ddr, uint8_t out, double t)
{
    network_advance(net, t);
    uint8_t turned = net->ddr[port] ^ ddr, changed = turned | (net->out[port] ^ out);
    net->ddr[port] = ddr;
    net->out[port] = out;
    net->look[port].sure = 0;
    if (turned)
        watch_ports(net);
    clock_chain(net);
    pump(net);
    net->ports_turned |= (changed & net->shape.drives[port]) != 0;
    if (net->ports_turned || net->chain_turned || net->was_enabled != deadman_enabled(net))
        network_apply(net, false);
    else
        net->skipped++;
    network_reschedule(net);
}

/* Eight clocks of the serial peripheral, bit 7 first; returns what fell out. */
uint8_t network_shift(struct network *net, uint8_t byte, double t)
{
    const struct specimen *sp = &net->sp;
    uint8_t back = net->chain.shift[2];
    network_advance(net, t);
    if (sp->pin_fault[sp->ser_out_pin])
        byte = network_line(net, sp->ser_out_pin) == LINE_HIGH ? 0xFF : 0;
    for (int i = 7; i >= 0 && !sp->pin_fault[sp->ser_clk_pin]; i--)
        chain_bit(net, byte >> i & 1);
    switch (sp->pin_fault[sp->ser_back_pin]) {
    case FAULT_LOW: return 0;
    case FAULT_NONE: return back;
    default: return 0xFF; /* stuck high, or open: a pin that floats near its rail */
    }
}

void network_latch(struct network *net, double t)
{
    network_advance(net, t);
    if (!net->sp.pin_fault[net->sp.latch_pin])
        latch(net);
    network_apply(net, false);
    network_reschedule(net);
}

void network_duty(struct network *net, double duty, double t)
{
    if (duty < 0)
        duty = network_line(net, net->sp.pwm_pin) == LINE_HIGH;
    if (duty == net->level.duty)
        return;
    network_advance(net, t);
    level_advance(net, net->now);
    net->level.duty = duty;
    net->next_tick = smaller(net->next_tick, net->now + LEVEL_TICK_S);
    network_reschedule(net);
}
