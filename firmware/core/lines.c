/* SPDX-License-Identifier: MIT */
#include "core/lines.h"

#include "core/budget.h"
#include "hal/clock.h"
#include "hal/ports.h"

#define PULSE_HALF_US 4       /* with the port write itself: some 5 us */
#define LOOK_AGAIN_US 10      /* a mismatch must last: 10 us is long against any RC here */
#define LOOKS 3

static struct {
    struct step_drive now;
    uint32_t verified;
    uint32_t load;                      /* the position whose S is under load, unverified */
    uint8_t ddr[WIRING_PORTS], out[WIRING_PORTS];

    struct step_drive next;
    uint32_t next_load;
    uint8_t next_ddr[WIRING_PORTS], next_out[WIRING_PORTS];
    uint16_t next_ports;

    /* Strong lines are watched at the M pins of their positions. */
    uint8_t watched[WIRING_PORTS], expected[WIRING_PORTS];
    uint8_t watch_port;
} lines;

static void recount_watch(void)
{
    uint32_t bit = 1;
    for (uint8_t port = 0; port < WIRING_PORTS; port++)
        lines.watched[port] = lines.expected[port] = 0;
    if (!lines.now.s_on)
        return;
    for (uint8_t i = 0; i < WIRING_POSITIONS; i++, bit <<= 1) {
        const struct wiring_line *medium = &wiring_medium[i];
        if (!(lines.now.s_on & ~lines.load & bit))
            continue;
        /* S against M of the same position is the host's wish, not contention. */
        if ((lines.now.m_on & bit) && !(lines.now.m_high & bit) != !(lines.now.s_high & bit))
            continue;
        lines.watched[medium->port] |= medium->mask;
        if (lines.now.s_high & bit)
            lines.expected[medium->port] |= medium->mask;
    }
}

void lines_all_off(void)
{
    for (uint8_t port = 0; port < WIRING_PORTS; port++) {
        uint8_t mask = wiring_medium_mask[port] | wiring_strong_mask[port];
        hal_port_ddr(port, mask, 0);
        hal_port_out(port, mask, 0);
        lines.ddr[port] = lines.out[port] = 0;
    }
    lines.now = (struct step_drive){0, 0, 0, 0};
    lines.load = 0;
    budget_lines_off();
    recount_watch();
}

void lines_start(void)
{
    lines.verified = 0;
    lines.watch_port = 0;
    budget_start();
    lines_all_off();
}

/* ----------------------------------------------------------------- planning */

static void plan_line(const struct wiring_line *line, bool on, bool high)
{
    if (on)
        lines.next_ddr[line->port] |= line->mask;
    else
        lines.next_ddr[line->port] &= (uint8_t)~line->mask;
    if (on && high)
        lines.next_out[line->port] |= line->mask;
    else
        lines.next_out[line->port] &= (uint8_t)~line->mask;
    lines.next_ports |= (uint16_t)(1U << line->port);
}

/* Current that an S line counts, 0.1 mA. */
static uint16_t strong_current(uint32_t load, uint32_t bit)
{
    return (lines.verified & ~load & bit) ? WIRING_VERIFIED_PIN : WIRING_STRONG_SHORT;
}

static void plan_position(uint8_t index, uint32_t bit)
{
    const struct step_drive *now = &lines.now, *next = &lines.next;
    const struct wiring_line *medium = &wiring_medium[index], *strong = &wiring_strong[index];
    if (now->m_on & bit)
        budget_take(medium->group, (now->m_high & bit) != 0, WIRING_MEDIUM_SHORT);
    if (next->m_on & bit)
        budget_give(medium->group, (next->m_high & bit) != 0, WIRING_MEDIUM_SHORT);
    if (now->s_on & bit)
        budget_take(strong->group, (now->s_high & bit) != 0, strong_current(lines.load, bit));
    if (next->s_on & bit)
        budget_give(strong->group, (next->s_high & bit) != 0, strong_current(lines.next_load, bit));
    if (((now->m_on ^ next->m_on) | (now->m_high ^ next->m_high)) & bit)
        plan_line(medium, (next->m_on & bit) != 0, (next->m_high & bit) != 0);
    if (((now->s_on ^ next->s_on) | (now->s_high ^ next->s_high)) & bit)
        plan_line(strong, (next->s_on & bit) != 0, (next->s_high & bit) != 0);
}

static uint8_t lowest_position(uint32_t mask)
{
    uint8_t position = 1;
    for (; !(mask & 1); mask >>= 1)
        position++;
    return position;
}

static enum lines_answer plan(const struct step_drive *to, uint32_t load, uint8_t *where)
{
    struct step_drive *next = &lines.next;
    *next = *to;
    next->m_high &= next->m_on;
    next->s_high &= next->s_on;
    lines.next_load = load;
    uint32_t wild = next->s_on & ~lines.verified & ~load;
    if (wild) {
        *where = lowest_position(wild);
        return LINES_NOT_VERIFIED;
    }
    for (uint8_t port = 0; port < WIRING_PORTS; port++) {
        lines.next_ddr[port] = lines.ddr[port];
        lines.next_out[port] = lines.out[port];
    }
    lines.next_ports = 0;
    budget_begin();
    const struct step_drive *now = &lines.now;
    uint32_t changed = (now->m_on ^ next->m_on) | (now->m_high ^ next->m_high) | (now->s_on ^ next->s_on) |
                       (now->s_high ^ next->s_high) | (lines.load ^ load);
    uint32_t bit = 1;
    for (uint8_t i = 0; changed; i++, bit <<= 1, changed >>= 1)
        if (changed & 1)
            plan_position(i, bit);
    return budget_fits(where) ? LINES_OK : LINES_OVER_BUDGET;
}

enum lines_answer lines_plan(const struct step_drive *to, uint8_t *where)
{
    return plan(to, 0, where);
}

enum lines_answer lines_plan_pin(uint8_t position, uint8_t which, bool high, bool load, uint8_t *where)
{
    uint32_t bit = POSITION_BIT(position);
    struct step_drive to = lines.now;
    to.m_on &= ~bit;
    to.m_high &= ~bit;
    to.s_on &= ~bit;
    to.s_high &= ~bit;
    if (which & 1)
        to.m_on |= bit;
    if (which & 2)
        to.s_on |= bit;
    if (high) {
        to.m_high |= bit;
        to.s_high |= bit;
    }
    return plan(&to, load ? bit : 0, where);
}

uint16_t lines_planned_ports(void)
{
    return lines.next_ports;
}

/* ----------------------------------------------------------------- doing it */

/* Order: those that go off, then levels, then those that come on. */
void lines_commit(void)
{
    uint16_t changed = lines.next_ports;
    for (uint8_t port = 0; changed >> port; port++) {
        uint8_t off = lines.ddr[port] & (uint8_t)~lines.next_ddr[port];
        if (off) {
            hal_port_ddr(port, off, 0);
            hal_port_out(port, off, 0);
        }
    }
    for (uint8_t port = 0; changed >> port; port++) {
        uint8_t level = (lines.out[port] ^ lines.next_out[port]) & lines.next_ddr[port];
        if (level)
            hal_port_out(port, level, lines.next_out[port]);
    }
    for (uint8_t port = 0; changed >> port; port++) {
        uint8_t on = lines.next_ddr[port] & (uint8_t)~lines.ddr[port];
        if (on)
            hal_port_ddr(port, on, on);
        lines.ddr[port] = lines.next_ddr[port];
        lines.out[port] = lines.next_out[port];
    }
    lines.now = lines.next;
    lines.load = lines.next_load;
    lines.next_ports = 0;
    budget_commit();
    recount_watch();
}

void lines_pin_off(uint8_t position)
{
    uint8_t where;
    if (lines_plan_pin(position, 0, false, false, &where) == LINES_OK)
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

/* ----------------------------------------------------------------- watching */

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

uint8_t lines_watch(bool may_peek)
{
    uint8_t port = lines.watch_port;
    for (uint8_t i = 0; i < WIRING_PORTS; i++) {
        port = port + 1 == WIRING_PORTS ? 0 : (uint8_t)(port + 1);
        if (lines.watched[port])
            break;
    }
    uint8_t which = lines.watched[port];
    if (!which)
        return 0;
    if (!may_peek && (which & lines.ddr[port]))
        return 0;             /* this port again next time */
    lines.watch_port = port;
    for (uint8_t looks = 1; (which = look(port, which)) != 0; looks++) {
        if (looks == LOOKS)
            return position_of(port, which);
        hal_wait_us(LOOK_AGAIN_US);
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
    for (uint8_t i = 0; i < WIRING_POSITIONS; i++) {
        const struct wiring_line *medium = &wiring_medium[i], *strong = &wiring_strong[i];
        if (!(lines.ddr[strong->port] & strong->mask) || !(hal_port_get(medium->port) & medium->mask))
            continue;
        hal_port_ddr(strong->port, strong->mask, 0);
        lines.ddr[strong->port] &= (uint8_t)~strong->mask;
        return (uint8_t)(i + 1);
    }
    return 0;
}
