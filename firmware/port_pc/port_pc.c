/* SPDX-License-Identifier: MIT */
#include "port_pc/port_pc.h"

#include <stdlib.h>
#include <string.h>

#include "core/session.h"
#include "gen/wiring.h"
#include "hal/adc.h"
#include "hal/clock.h"
#include "hal/device.h"
#include "hal/ports.h"
#include "hal/registers.h"
#include "hal/uart.h"
#include "port_pc/pc_adc.h"

/* What calls cost, in ns at 16 MHz; estimated from the AVR image, exactness does not matter. */
#define COST_PORT 1300
#define COST_GET 900
#define COST_TOGGLE 125
#define COST_SHIFT 10000
#define COST_LATCH 300
#define COST_TICKS 3000
#define COST_UART 1500
#define COST_BYTE 5000
#define COST_TURN 8000
#define CLOCK_PS UINT64_C(62500)
#define LOOK_BEGINS 5             /* as in the image: clocks from the edge to the first look, beside its phase */
#define TICK_NS 500000
#define BYTE_NS 20000             /* 10 bits at 500 kBd */
#define TX_RING 127
#define EEPROM_NS 3400000

static const struct port_pc_world nowhere;

static struct {
    const struct port_pc_world *world;
    uint64_t now;
    uint32_t turn_ns;
    uint8_t cause;
    uint8_t ddr[HAL_PORTS], out[HAL_PORTS];
    uint8_t loop[HAL_CHAIN];

    uint8_t *rx;                  /* not yet taken by the firmware */
    uint32_t rx_size, rx_count, rx_at;
    uint64_t rx_next;             /* when the next one has arrived */
    bool broken, error;

    uint8_t tx[TX_RING];
    uint8_t tx_count;
    uint64_t tx_next;

    uint32_t serial;
    uint64_t eeprom_busy_until;
    uint64_t fed, gap;
} pc = {.world = &nowhere, .serial = 0xFFFFFFFF};

uint64_t port_pc_now_ns(void)
{
    return pc.now;
}

static void send_due(void)
{
    while (pc.tx_count && pc.now >= pc.tx_next) {
        uint8_t byte = pc.tx[0];
        memmove(pc.tx, pc.tx + 1, --pc.tx_count);
        pc.tx_next += BYTE_NS;
        if (pc.world->tx)
            pc.world->tx(pc.world->context, byte);
    }
}

void pc_spend(uint64_t ns)
{
    uint64_t end = pc.now + ns;
    uint64_t event;
    /* Samples and ends of conversions happen at their own moments. */
    while ((event = pc_adc_next_event()) <= end) {
        if (event > pc.now)
            pc.now = event;
        if (pc.world->advance)
            pc.world->advance(pc.world->context, pc.now);
        pc_adc_event();
    }
    pc.now = end;
    if (pc.world->advance)
        pc.world->advance(pc.world->context, pc.now);
    send_due();
}

uint16_t pc_sample(uint8_t channel, uint8_t refs)
{
    return pc.world->sample ? pc.world->sample(pc.world->context, channel, refs) : 0;
}

/* -------------------------------------------------------------------- ports */

static void write_port(uint8_t port, uint8_t ddr, uint8_t out, uint64_t cost)
{
    pc_spend(cost);
    if (ddr == pc.ddr[port] && out == pc.out[port])
        return;
    pc.ddr[port] = ddr;
    pc.out[port] = out;
    if (pc.world->port_write)
        pc.world->port_write(pc.world->context, port, ddr, out);
}

void hal_port_ddr(uint8_t port, uint8_t mask, uint8_t value)
{
    write_port(port, (uint8_t)((pc.ddr[port] & ~mask) | (value & mask)), pc.out[port], COST_PORT);
}

void hal_port_out(uint8_t port, uint8_t mask, uint8_t value)
{
    write_port(port, pc.ddr[port], (uint8_t)((pc.out[port] & ~mask) | (value & mask)), COST_PORT);
}

uint8_t hal_port_get(uint8_t port)
{
    pc_spend(COST_GET);
    if (pc.world->pin_read)
        return pc.world->pin_read(pc.world->context, port, pc.ddr[port], pc.out[port]);
    return pc.out[port];
}

void hal_edge_toggle(const struct hal_edge *edge)
{
    for (uint8_t i = 0; i < 2; i++)
        write_port(edge->port[i], pc.ddr[edge->port[i]], pc.out[edge->port[i]] ^ edge->mask[i], COST_TOGGLE);
}

static bool at_rest(const struct hal_edge *edge)
{
    uint8_t pins = pc.out[edge->in_port];
    if (pc.world->pin_read)
        pins = pc.world->pin_read(pc.world->context, edge->in_port, pc.ddr[edge->in_port], pc.out[edge->in_port]);
    pc_spend(HAL_LOOK_CLOCKS * CLOCK_PS / 1000);
    return !((pins ^ edge->rest) & edge->in_mask);
}

uint8_t hal_edge_look(const struct hal_edge *edge, uint8_t phase, uint8_t again)
{
    uint8_t before = 0, looks = 0;
    for (uint8_t edges = again ? 2 : 0; edges; edges--) {
        hal_edge_toggle(edge);
        pc_spend((uint64_t)again * HAL_LOOK_CLOCKS / 2 * CLOCK_PS / 1000);
    }
    hal_edge_toggle(edge);
    pc_spend((LOOK_BEGINS + phase) * CLOCK_PS / 1000);
    while (before < HAL_LOOK_BEGIN && at_rest(edge))
        before++;
    if (before == HAL_LOOK_BEGIN)
        return 0;
    do
        looks++;
    while (looks <= HAL_LOOK_MOST && !at_rest(edge));
    return looks;
}

void hal_shift(const uint8_t bytes[HAL_CHAIN], uint8_t back[HAL_CHAIN])
{
    pc_spend(COST_SHIFT);
    if (pc.world->shift) {
        pc.world->shift(pc.world->context, bytes, back);
        return;
    }
    memcpy(back, pc.loop, HAL_CHAIN);
    memcpy(pc.loop, bytes, HAL_CHAIN);
}

void hal_latch(void)
{
    pc_spend(COST_LATCH);
    if (pc.world->latch)
        pc.world->latch(pc.world->context);
}

/* --------------------------------------------------------- time and serial */

uint32_t hal_ticks(void)
{
    pc_spend(COST_TICKS);
    return (uint32_t)(pc.now / 500);
}

void hal_work(uint8_t us)
{
    pc_spend((uint64_t)us * 1000);
}

void hal_wait_us(uint8_t us)
{
    pc_spend((uint64_t)us * 1000);
}

void port_pc_rx(const uint8_t *bytes, uint32_t count)
{
    if (pc.rx_at == pc.rx_count) {
        pc.rx_at = pc.rx_count = 0;
        pc.rx_next = pc.now + BYTE_NS;
    }
    if (pc.rx_count + count > pc.rx_size) {
        pc.rx_size = pc.rx_count + count;
        pc.rx = realloc(pc.rx, pc.rx_size);
        if (!pc.rx)
            abort();
    }
    memcpy(pc.rx + pc.rx_count, bytes, count);
    pc.rx_count += count;
}

void port_pc_pace(uint32_t turn_ns)
{
    pc.turn_ns = turn_ns;
}

void port_pc_break_byte(void)
{
    pc.broken = true;
}

uint8_t hal_uart_get(uint8_t *to, uint8_t most)
{
    uint8_t count = 0;
    pc_spend(COST_UART);
    for (; count < most && pc.rx_at != pc.rx_count && pc.now >= pc.rx_next; count++) {
        pc.rx_next += BYTE_NS;
        if (pc.broken)
            pc.error = true;
        pc.broken = false;
        to[count] = pc.rx[pc.rx_at++];
        pc_spend(COST_BYTE);
    }
    return count;
}

uint8_t hal_uart_put(const uint8_t *bytes, uint8_t count)
{
    pc_spend(COST_UART);
    if (count > TX_RING - pc.tx_count)
        count = (uint8_t)(TX_RING - pc.tx_count);
    if (count && pc.tx_count == 0)
        pc.tx_next = pc.now + BYTE_NS;
    memcpy(pc.tx + pc.tx_count, bytes, count);
    pc.tx_count = (uint8_t)(pc.tx_count + count);
    return count;
}

bool hal_uart_error(void)
{
    bool error = pc.error;
    pc.error = false;
    return error;
}

/* ------------------------------------------------------------------- device */

void hal_pwm(uint16_t duty)
{
    pc_spend(COST_PORT);
    if (pc.world->pwm)
        pc.world->pwm(pc.world->context, duty);
}

void port_pc_set_serial(uint32_t serial)
{
    pc.serial = serial;
}

uint32_t hal_serial_get(void)
{
    return pc.serial;
}

uint8_t hal_serial_put(uint8_t index, uint8_t byte)
{
    if (pc.now < pc.eeprom_busy_until)
        return 0;
    pc.serial = (pc.serial & ~((uint32_t)0xFF << (8 * index))) | ((uint32_t)byte << (8 * index));
    pc.eeprom_busy_until = pc.now + EEPROM_NS;
    return 1;
}

void hal_watchdog(void)
{
    if (pc.now - pc.fed > pc.gap)
        pc.gap = pc.now - pc.fed;
    pc.fed = pc.now;
}

uint64_t port_pc_watchdog_gap_ns(void)
{
    return pc.gap;
}

uint8_t hal_reset_cause(void)
{
    return pc.cause;
}

uint16_t hal_stack_free(void)
{
    return 0;
}

void hal_idle(void)
{
    uint64_t wake = (pc.now / TICK_NS + 1) * TICK_NS;
    if (pc.rx_at < pc.rx_count && pc.rx_next < wake)
        wake = pc.rx_next;
    if (wake > pc.now)
        pc_spend(wake - pc.now);
}

void port_pc_reset(const struct port_pc_world *world, uint8_t cause)
{
    pc.world = world ? world : &nowhere;
    pc.cause = cause;
    pc.turn_ns = COST_TURN;
    pc.rx_at = pc.rx_count = 0;
    pc.tx_count = 0;
    pc.broken = pc.error = false;
    for (uint8_t port = 0; port < HAL_PORTS; port++) {
        pc.ddr[port] = pc.out[port] = 0;
        if (pc.world->port_write)
            pc.world->port_write(pc.world->context, port, 0, 0);
    }
    pc.fed = pc.now;
    pc.gap = 0;
    pc_adc_reset();
    session_start();
}

bool port_pc_poll(void)
{
    pc_spend(pc.turn_ns);
    session_turn();
    if (!session_quiet())
        return false;
    hal_idle();
    return true;
}
