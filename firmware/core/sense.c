/* SPDX-License-Identifier: MIT */
#include "core/sense.h"

#include "core/lines.h"
#include "hal/ports.h"
#include "hal/registers.h"

#define BIT(number) ((uint8_t)(1U << (number)))

_Static_assert(HAL_CHAIN == WIRING_REGISTERS && HAL_CHAIN == 3, "one chain, of three");

static struct {
    uint8_t registers[WIRING_REGISTERS];
    uint8_t shifted[WIRING_REGISTERS];   /* what is in the chain */
    bool known;                          /* ... since the start */
    bool failed;
    uint8_t position, load, ld;
    bool supply_on;
} sense;

/* The byte for the far end goes first; what falls out is what was shifted before. */
static void shift(void)
{
    uint8_t back[HAL_CHAIN];
    const uint8_t far = sense.registers[2], middle = sense.registers[1], near = sense.registers[0];
    const uint8_t bytes[HAL_CHAIN] = {far, middle, near};
    hal_shift(bytes, back);
    if (sense.known && (back[0] != sense.shifted[2] || back[1] != sense.shifted[1] || back[2] != sense.shifted[0]))
        sense.failed = true;
    sense.known = true;
    sense.shifted[2] = far;
    sense.shifted[1] = middle;
    sense.shifted[0] = near;
}

static void write_registers(void)
{
    shift();
    hal_latch();
}

bool sense_chain_good(void)
{
    sense.failed = false;
    shift();
    shift();
    hal_latch();
    bool good = !sense.failed;
    sense.failed = false;
    return good;
}

uint32_t sense_chain_pattern(uint32_t pattern)
{
    uint8_t back[HAL_CHAIN];
    const uint8_t bytes[HAL_CHAIN] = {(uint8_t)(pattern >> 16), (uint8_t)(pattern >> 8), (uint8_t)pattern};
    const uint8_t stay[HAL_CHAIN] = {sense.shifted[2], sense.shifted[1], sense.shifted[0]};
    hal_shift(bytes, back);
    hal_shift(stay, back);
    return ((uint32_t)back[0] << 16) | ((uint16_t)back[1] << 8) | back[2];
}

bool sense_chain_failed(void)
{
    bool failed = sense.failed;
    sense.failed = false;
    return failed;
}

static void inhibit(uint8_t mux, bool off)
{
    const struct wiring_line *line = &wiring_inhibit[mux];
    hal_port_out(line->port, line->mask, off ? 0xFF : 0);
}

static void ld_set(uint8_t ld)
{
    const uint8_t mask = BIT(WIRING_LD_BIT);
    if (ld == LINE_OFF) {
        hal_port_ddr(WIRING_LD_PORT, mask, 0);
        hal_port_out(WIRING_LD_PORT, mask, 0);
    } else {
        hal_port_out(WIRING_LD_PORT, mask, ld == LINE_HIGH ? 0xFF : 0);
        hal_port_ddr(WIRING_LD_PORT, mask, mask);
    }
    sense.ld = ld;
}

static uint8_t mux_of(uint8_t position)
{
    return wiring_sense[position - 1].mux;
}

static void tie(uint8_t position, uint8_t load)
{
    uint8_t bits = wiring_load_bits[load];
    if (sense.position)
        inhibit(mux_of(sense.position), true);
    if (position)
        bits |= wiring_sense_bits[wiring_sense[position - 1].channel];
    sense.position = position;
    sense.load = load;
    sense.registers[WIRING_ADDRESS_REGISTER] = bits;
    write_registers();
    if (position)
        inhibit(mux_of(position), false);
}

void sense_start(void)
{
    sense.known = false;
    sense.failed = false;
    /* After a watchdog reset the dead-man may still hold the outputs enabled: off comes first. */
    for (uint8_t i = 0; i < WIRING_REGISTERS; i++)
        sense.registers[i] = wiring_registers_off[i];
    sense.ld = LINE_OFF;
    sense.position = 0;
    for (uint8_t mux = 0; mux < WIRING_MUXES; mux++) {
        inhibit(mux, true);
        hal_port_ddr(wiring_inhibit[mux].port, wiring_inhibit[mux].mask, wiring_inhibit[mux].mask);
    }
    sense_off();
    (void)sense_switches(0, 0, 0);
}

bool sense_set(uint8_t position, uint8_t load, uint8_t ld)
{
    if (!lines_count_ld(load, ld))
        return false;
    if (ld != sense.ld)
        ld_set(LINE_OFF);
    tie(position, load);
    if (ld != sense.ld)
        ld_set(ld);
    return true;
}

void sense_position(uint8_t position)
{
    tie(position, sense.load);
}

void sense_off(void)
{
    ld_set(LINE_OFF);
    (void)lines_count_ld(0, LINE_OFF);
    tie(0, 0);
}

uint16_t sense_settle_us(void)
{
    return wiring_settle_us[sense.load];
}

/* ----------------------------------------------------------------- switches */

static const struct wiring_switch *find(const struct wiring_switch *table, uint8_t count, uint8_t position)
{
    for (uint8_t i = 0; i < count; i++)
        if (table[i].position == position)
            return &table[i];
    return 0;
}

bool sense_switches(uint8_t supply, uint8_t supply_2, uint8_t ground)
{
    uint8_t wanted[WIRING_REGISTERS];
    const uint8_t supplies[2] = {supply, supply_2};
    for (uint8_t i = 0; i < WIRING_REGISTERS; i++)
        wanted[i] = i == WIRING_ADDRESS_REGISTER ? sense.registers[i] : wiring_registers_off[i];
    for (uint8_t i = 0; i < 2; i++) {
        if (!supplies[i])
            continue;
        const struct wiring_switch *found = find(wiring_supply, WIRING_SUPPLIES, supplies[i]);
        if (!found)
            return false;
        wanted[found->reg] &= (uint8_t)~found->mask;    /* P switch: low is on */
    }
    if (ground) {
        const struct wiring_switch *found = find(wiring_ground, WIRING_GROUNDS, ground);
        if (!found)
            return false;
        wanted[found->reg] |= found->mask;
    }
    for (uint8_t i = 0; i < WIRING_REGISTERS; i++)
        sense.registers[i] = wanted[i];
    write_registers();
    sense.supply_on = supply || supply_2;
    return true;
}

bool sense_supply_on(void)
{
    return sense.supply_on;
}
