/* SPDX-License-Identifier: MIT */
#include "core/lines.h"

#include "core/budget.h"
#include "core/lines_inside.h"
#include "hal/ports.h"

struct lines_state lines;

void lines_all_off(void)
{
    for (uint8_t port = 0; port < WIRING_PORTS; port++) {
        uint8_t mask = wiring_medium_mask[port] | wiring_strong_mask[port];
        hal_port_ddr(port, mask, 0);
        hal_port_out(port, mask, 0);
        lines.ddr[port] = lines.out[port] = 0;
    }
    lines.now = (struct step_drive){0, 0, 0, 0};
    lines.load.position = lines.load_next.position = 0;
    budget_lines_off();
    lines.watch_stale = true;
}

void lines_start(void)
{
    lines.verified = 0;
    budget_start();
    lines_all_off();
}

/* ----------------------------------------------------------------- planning */

static const uint16_t port_bit[WIRING_PORTS] = {1 << 0, 1 << 1, 1 << 2, 1 << 3, 1 << 4, 1 << 5,
                                               1 << 6, 1 << 7, 1 << 8, 1 << 9, 1 << 10};

/* Bits of a port that drive for a load: gone when a plan is carried out. */
static uint8_t load_bits(uint8_t port)
{
    const struct load_lines *load = &lines.load;
    uint8_t bits = 0;
    if (!load->position)
        return 0;
    if ((load->lines & 1) && wiring_medium[load->position - 1].port == port)
        bits = wiring_medium[load->position - 1].mask;
    if ((load->lines & 2) && wiring_strong[load->position - 1].port == port)
        bits |= wiring_strong[load->position - 1].mask;
    return bits;
}

/* The planned registers of a port are a copy of the present ones, made when first touched. */
static void touch(uint8_t port)
{
    if (lines.next_ports & port_bit[port])
        return;
    uint8_t stay = (uint8_t)~load_bits(port);
    lines.next_ports |= port_bit[port];
    lines.touched[lines.touched_count++] = port;
    lines.next_ddr[port] = lines.ddr[port] & stay;
    lines.next_out[port] = lines.out[port] & stay;
}

static void plan_line(const struct wiring_line *line, bool on, bool high)
{
    uint8_t port = line->port, mask = line->mask;
    touch(port);
    if (on)
        lines.next_ddr[port] |= mask;
    else
        lines.next_ddr[port] &= (uint8_t)~mask;
    if (on && high)
        lines.next_out[port] |= mask;
    else
        lines.next_out[port] &= (uint8_t)~mask;
}

/* The lines of eight positions: their currents, and their bits of the ports.
 * An S line that gets here drives a verified position, before and after. */
static void plan_octet(uint8_t part)
{
    struct octet now = octet(&lines.now, part), next = octet(&lines.next, part);
    uint8_t index = (uint8_t)(8 * part);
    uint8_t medium = (uint8_t)((now.m_on ^ next.m_on) | (now.m_high ^ next.m_high));
    uint8_t strong = (uint8_t)((now.s_on ^ next.s_on) | (now.s_high ^ next.s_high));
    for (uint8_t bit = 1; medium | strong; index++, bit = (uint8_t)(bit << 1)) {
        if (medium & bit) {
            const struct wiring_line *line = &wiring_medium[index];
            if (now.m_on & bit)
                budget_take(line->group, now.m_high & bit, WIRING_MEDIUM_SHORT);
            if (next.m_on & bit)
                budget_give(line->group, next.m_high & bit, WIRING_MEDIUM_SHORT);
            plan_line(line, next.m_on & bit, next.m_high & bit);
            medium &= (uint8_t)~bit;
        }
        if (strong & bit) {
            const struct wiring_line *line = &wiring_strong[index];
            if (now.s_on & bit)
                budget_take(line->group, now.s_high & bit, WIRING_VERIFIED_PIN);
            if (next.s_on & bit)
                budget_give(line->group, next.s_high & bit, WIRING_VERIFIED_PIN);
            plan_line(line, next.s_on & bit, next.s_high & bit);
            strong &= (uint8_t)~bit;
        }
    }
}

/* The budget as it is with the lines that really drive. */
static void recount_budget(void)
{
    budget_lines_off();
    for (uint8_t i = 0; i < WIRING_POSITIONS; i++) {
        uint32_t bit = POSITION_BIT(i + 1);
        if (lines.now.m_on & bit)
            budget_give(wiring_medium[i].group, lines.now.m_high & bit, WIRING_MEDIUM_SHORT);
        if (lines.now.s_on & bit)
            budget_give(wiring_strong[i].group, lines.now.s_high & bit, WIRING_VERIFIED_PIN);
    }
}

static uint8_t lowest_position(uint32_t mask)
{
    uint8_t position = 1;
    for (; !(mask & 1); mask >>= 1)
        position++;
    return position;
}

static void nothing_planned(void)
{
    lines.next_ports = 0;
    lines.touched_count = 0;
    lines.levels_only = false;
}

/* lines.next is as wished, and differs from now in these octets at most. */
static enum lines_answer plan(uint8_t first, uint8_t last, uint8_t *where)
{
    uint32_t wild = lines.next.s_on & ~lines.verified;
    nothing_planned();
    if (wild) {
        *where = lowest_position(wild);
        return LINES_NOT_VERIFIED;
    }
    for (uint8_t part = first; part <= last; part++)
        plan_octet(part);
    if (budget_fits(where))
        return LINES_OK;
    recount_budget();
    return LINES_OVER_BUDGET;
}

enum lines_answer lines_plan(const struct step_drive *to, uint8_t *where)
{
    lines.next = *to;
    lines.next.m_high &= to->m_on;
    lines.next.s_high &= to->s_on;
    return plan(0, OCTETS - 1, where);
}

/* A line that drives changes its level; false if that is too much for its group. */
static bool plan_flip(const struct wiring_line *line, bool high, uint16_t current)
{
    touch(line->port);
    lines.next_out[line->port] ^= line->mask;
    budget_flip(line->group, high, current);
    return budget_fits_here(line->group, high);
}

enum lines_answer lines_plan_levels(const uint32_t *high, uint8_t *where)
{
    bool fits = true;
    nothing_planned();
    lines.levels_only = true;
    lines.next = lines.now;
    for (uint8_t part = 0; part < OCTETS; part++) {
        struct octet now = octet(&lines.now, part);
        uint8_t to = byte_of(high, part), index = (uint8_t)(8 * part);
        uint8_t medium = (now.m_high ^ to) & now.m_on, strong = (now.s_high ^ to) & now.s_on;
        if (!(medium | strong))
            continue;
        ((uint8_t *)&lines.next.m_high)[part] ^= medium;
        ((uint8_t *)&lines.next.s_high)[part] ^= strong;
        for (; medium | strong; index++, to >>= 1, medium >>= 1, strong >>= 1) {
            if (medium & 1)
                fits &= plan_flip(&wiring_medium[index], to & 1, WIRING_MEDIUM_SHORT);
            if (strong & 1)
                fits &= plan_flip(&wiring_strong[index], to & 1, WIRING_VERIFIED_PIN);
        }
    }
    /* Not at once: a later flip may have made room again. */
    if (fits || budget_fits(where))
        return LINES_OK;
    recount_budget();
    return LINES_OVER_BUDGET;
}

static const uint8_t bit_of[8] = {0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80};

static void put_bit(uint32_t *mask, uint8_t part, uint8_t bit, bool one)
{
    uint8_t *byte = (uint8_t *)mask + part;
    *byte = (uint8_t)((*byte & (uint8_t)~bit) | (one ? bit : 0));
}

/* The bits of one position in one octet of a drive. */
static void put_position(struct step_drive *drive, uint8_t position, uint8_t which, bool high)
{
    uint8_t part = (uint8_t)((position - 1) >> 3), bit = bit_of[(position - 1) & 7];
    bool medium = which & 1, strong = which & 2;
    put_bit(&drive->m_on, part, bit, medium);
    put_bit(&drive->m_high, part, bit, medium && high);
    put_bit(&drive->s_on, part, bit, strong);
    put_bit(&drive->s_high, part, bit, strong && high);
}

enum lines_answer lines_plan_pin(uint8_t position, uint8_t which, bool high, uint8_t *where)
{
    uint8_t part = (uint8_t)((position - 1) >> 3);
    lines.next = lines.now;
    put_position(&lines.next, position, which, high);
    return plan(part, part, where);
}

uint16_t lines_planned_ports(void)
{
    return lines.next_ports;
}

/* ----------------------------------------------------------------- doing it */

static void commit_off(void)
{
    for (uint8_t i = 0; i < lines.touched_count; i++) {
        uint8_t port = lines.touched[i];
        uint8_t off = lines.ddr[port] & (uint8_t)~lines.next_ddr[port];
        if (off) {
            hal_port_ddr(port, off, 0);
            hal_port_out(port, off, 0);
        }
    }
}

static void commit_levels(void)
{
    for (uint8_t i = 0; i < lines.touched_count; i++) {
        uint8_t port = lines.touched[i];
        uint8_t level = (lines.out[port] ^ lines.next_out[port]) & lines.next_ddr[port];
        if (level)
            hal_port_out(port, level, lines.next_out[port]);
        lines.out[port] = lines.next_out[port];
    }
}

static void commit_on(void)
{
    for (uint8_t i = 0; i < lines.touched_count; i++) {
        uint8_t port = lines.touched[i];
        uint8_t on = lines.next_ddr[port] & (uint8_t)~lines.ddr[port];
        if (on)
            hal_port_ddr(port, on, on);
        lines.ddr[port] = lines.next_ddr[port];
    }
}

/* Order: those that go off, then levels, then those that come on. */
void lines_commit(void)
{
    if (!lines.levels_only)
        commit_off();
    commit_levels();
    if (!lines.levels_only)
        commit_on();
    lines.now = lines.next;
    lines.next_ports = 0;
    lines.touched_count = 0;
    lines.watch_stale = true;
}

bool lines_drive(uint8_t position)
{
    const struct wiring_line *medium = &wiring_medium[position - 1], *strong = &wiring_strong[position - 1];
    return (lines.ddr[medium->port] & medium->mask) || (lines.ddr[strong->port] & strong->mask);
}

void lines_pin_off(uint8_t position)
{
    uint8_t where;
    if (!lines_drive(position))
        return;
    if (lines_plan_pin(position, 0, false, &where) == LINES_OK)
        lines_commit();
    else
        lines_all_off();      /* cannot be: less drive never costs more; then rather all off */
}

const struct step_drive *lines_now(void)
{
    return &lines.now;
}

bool lines_count_ld(uint8_t load, uint8_t level)
{
    return budget_ld(level == LINE_OFF ? 0 : wiring_load_short[load], level == LINE_HIGH);
}

void lines_verified_add(uint8_t position)
{
    lines.verified |= POSITION_BIT(position);
}

uint32_t lines_verified(void)
{
    return lines.verified;
}

void lines_verified_forget(void)
{
    lines.verified = 0;
}
