/* SPDX-License-Identifier: MIT */
#include "core/sense.h"

#include "core/lines.h"
#include "hal/ports.h"
#include "hal/registers.h"

#define BIT(number) ((uint8_t)(1U << (number)))

#define GROUND_LOAD 7         /* load selector channel of GND (tests/firmware hold it against the wiring) */

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
static void shift(const uint8_t registers[WIRING_REGISTERS])
{
    uint8_t back[HAL_CHAIN];
    const uint8_t bytes[HAL_CHAIN] = {registers[2], registers[1], registers[0]};
    hal_shift(bytes, back);
    if (sense.known && (back[0] != sense.shifted[2] || back[1] != sense.shifted[1] || back[2] != sense.shifted[0]))
        sense.failed = true;
    sense.known = true;
    sense.shifted[2] = bytes[0];
    sense.shifted[1] = bytes[1];
    sense.shifted[0] = bytes[2];
}

static bool are_shifted(const uint8_t registers[WIRING_REGISTERS])
{
    return sense.known && registers[0] == sense.shifted[0] && registers[1] == sense.shifted[1]
        && registers[2] == sense.shifted[2];
}

static void write_registers(void)
{
    if (!are_shifted(sense.registers))
        shift(sense.registers);
    hal_latch();
}

bool sense_chain_good(void)
{
    sense.failed = false;
    shift(sense.registers);
    shift(sense.registers);
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
    return ((uint32_t)back[0] << 16) | ((uint32_t)back[1] << 8) | back[2];
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

static uint8_t address_bits(uint8_t position, uint8_t load)
{
    uint8_t bits = wiring_load_bits[load];
    if (position)
        bits |= wiring_sense_bits[wiring_sense[position - 1].channel];
    return bits;
}

static void let_go(void)
{
    if (sense.position)
        inhibit(mux_of(sense.position), true);
    sense.position = 0;
}

static void address(uint8_t position, uint8_t load)
{
    sense.load = load;
    sense.registers[WIRING_ADDRESS_REGISTER] = address_bits(position, load);
    write_registers();
}

static __attribute__((noinline)) void tie(uint8_t position, uint8_t load)
{
    let_go();
    address(position, load);
    if (!position)
        return;
    inhibit(mux_of(position), false);
    sense.position = position;
}

/* K remembers the level it had, and an output that only pulls one way could not take it from
 * there: a TTL output does not pull down to its own high level, nor an open collector up.
 * So before a position is read with nothing else on K, K goes to ground for a moment. */
static __attribute__((noinline)) void tie_to_read(uint8_t position, uint8_t load)
{
    if (position && !load) {
        let_go();
        address(0, GROUND_LOAD);
    }
    tie(position, load);
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
    tie_to_read(position, load);
    if (ld != sense.ld)
        ld_set(ld);
    return true;
}

void sense_ahead(uint8_t position, uint8_t load)
{
    uint8_t next[WIRING_REGISTERS];
    for (uint8_t i = 0; i < WIRING_REGISTERS; i++)
        next[i] = sense.registers[i];
    next[WIRING_ADDRESS_REGISTER] = address_bits(position, load);
    if (!are_shifted(next))
        shift(next);
}

void sense_position_ahead(uint8_t position)
{
    if (sense.load)
        sense_ahead(position, sense.load);
    else
        sense_ahead(0, GROUND_LOAD);
}

bool sense_moves_to(uint8_t position, uint8_t load, uint8_t ld)
{
    if (load != sense.load)
        return sense_set(position, load, ld);
    if (ld == sense.ld) {
        tie(position, load);
        return true;
    }
    if (!lines_count_ld(load, ld))
        return false;
    ld_set(LINE_OFF);
    tie(position, load);
    ld_set(ld);
    return true;
}

void sense_ld_off(void)
{
    ld_set(LINE_OFF);
    (void)lines_count_ld(0, LINE_OFF);
}

void sense_position(uint8_t position)
{
    tie_to_read(position, sense.load);
}

void sense_off(void)
{
    sense_ld_off();
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
