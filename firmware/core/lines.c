/* SPDX-License-Identifier: MIT */
#include "core/lines.h"

#include "core/budget.h"
#include "hal/adc.h"
#include "hal/clock.h"
#include "hal/ports.h"

#define PULSE_HALF_US 4       /* with the port write itself: some 5 us */
#define LOOK_AGAIN_US 10      /* a mismatch must last: 10 us is long against any RC here */
#define LOOKS 3
#define OCTETS (WIRING_POSITIONS / 8)

static struct {
    struct step_drive now;
    uint32_t verified;
    uint32_t load;                      /* the position whose S is under load, unverified */
    uint8_t ddr[WIRING_PORTS], out[WIRING_PORTS];

    struct step_drive next;
    uint32_t next_load;
    uint8_t next_ddr[WIRING_PORTS], next_out[WIRING_PORTS];
    uint8_t touched[WIRING_PORTS], touched_count;
    uint16_t next_ports;                /* the same as bits */

    /* Strong lines are watched at the M pins of their positions. */
    uint8_t watched[WIRING_PORTS], expected[WIRING_PORTS];
} lines;

/* Eight positions at a time: the controller computes in bytes. */
struct octet {
    uint8_t m_on, m_high, s_on, s_high;
};

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "byte 0 has positions 1..8");

static inline uint8_t byte_of(const uint32_t *mask, uint8_t which)
{
    return ((const uint8_t *)mask)[which];
}

static inline struct octet octet(const struct step_drive *drive, uint8_t which)
{
    struct octet part = {byte_of(&drive->m_on, which), byte_of(&drive->m_high, which), byte_of(&drive->s_on, which),
                         byte_of(&drive->s_high, which)};
    return part;
}

static void watch_octet(uint8_t part)
{
    struct octet now = octet(&lines.now, part);
    uint8_t load = byte_of(&lines.load, part), index = (uint8_t)(8 * part);
    /* S against M of the same position is the host's wish, not contention. */
    uint8_t against = now.m_on & (now.m_high ^ now.s_high);
    uint8_t which = now.s_on & (uint8_t) ~(load | against);
    for (; which; index++, which >>= 1, now.s_high >>= 1) {
        if (!(which & 1))
            continue;
        const struct wiring_line *medium = &wiring_medium[index];
        lines.watched[medium->port] |= medium->mask;
        if (now.s_high & 1)
            lines.expected[medium->port] |= medium->mask;
    }
}

static void recount_watch(void)
{
    if (!(lines.now.s_on & ~lines.load))
        return;                       /* lines_watch() looks at nothing then */
    for (uint8_t port = 0; port < WIRING_PORTS; port++)
        lines.watched[port] = lines.expected[port] = 0;
    for (uint8_t part = 0; part < OCTETS; part++)
        watch_octet(part);
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
    budget_start();
    lines_all_off();
}

/* ----------------------------------------------------------------- planning */

static const uint16_t port_bit[WIRING_PORTS] = {1 << 0, 1 << 1, 1 << 2, 1 << 3, 1 << 4, 1 << 5,
                                               1 << 6, 1 << 7, 1 << 8, 1 << 9, 1 << 10};

/* The planned registers of a port are a copy of the present ones, made when first touched. */
static void plan_line(const struct wiring_line *line, bool on, bool high)
{
    uint8_t port = line->port, mask = line->mask;
    if (!(lines.next_ports & port_bit[port])) {
        lines.next_ports |= port_bit[port];
        lines.touched[lines.touched_count++] = port;
        lines.next_ddr[port] = lines.ddr[port];
        lines.next_out[port] = lines.out[port];
    }
    if (on)
        lines.next_ddr[port] |= mask;
    else
        lines.next_ddr[port] &= (uint8_t)~mask;
    if (on && high)
        lines.next_out[port] |= mask;
    else
        lines.next_out[port] &= (uint8_t)~mask;
}

/* Current that an S line counts, 0.1 mA. */
static uint16_t strong_current(bool verified)
{
    return verified ? WIRING_VERIFIED_PIN : WIRING_STRONG_SHORT;
}

/* The lines of eight positions: their currents, and their bits of the ports. */
static void plan_octet(uint8_t part)
{
    struct octet now = octet(&lines.now, part), next = octet(&lines.next, part);
    uint8_t index = (uint8_t)(8 * part), verified = byte_of(&lines.verified, part);
    uint8_t was_free = verified & (uint8_t)~byte_of(&lines.load, part);
    uint8_t is_free = verified & (uint8_t)~byte_of(&lines.next_load, part);
    uint8_t medium = (uint8_t)((now.m_on ^ next.m_on) | (now.m_high ^ next.m_high));
    uint8_t strong = (uint8_t)((now.s_on ^ next.s_on) | (now.s_high ^ next.s_high) |
                               ((was_free ^ is_free) & now.s_on));
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
                budget_take(line->group, now.s_high & bit, strong_current(was_free & bit));
            if (next.s_on & bit)
                budget_give(line->group, next.s_high & bit, strong_current(is_free & bit));
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
            budget_give(wiring_strong[i].group, lines.now.s_high & bit,
                        strong_current(lines.verified & ~lines.load & bit));
    }
}

static uint8_t lowest_position(uint32_t mask)
{
    uint8_t position = 1;
    for (; !(mask & 1); mask >>= 1)
        position++;
    return position;
}

/* lines.next and .next_load are as wished, and differ from now in these octets at most. */
static enum lines_answer plan(uint8_t first, uint8_t last, uint8_t *where)
{
    uint32_t wild = lines.next.s_on & ~lines.verified & ~lines.next_load;
    lines.next_ports = 0;
    lines.touched_count = 0;
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
    lines.next_load = 0;
    return plan(0, OCTETS - 1, where);
}

static void put_bit(uint32_t *mask, uint8_t part, uint8_t bit, bool one)
{
    uint8_t *byte = (uint8_t *)mask + part;
    *byte = (uint8_t)((*byte & (uint8_t)~bit) | (one ? bit : 0));
}

enum lines_answer lines_plan_pin(uint8_t position, uint8_t which, bool high, bool load, uint8_t *where)
{
    static const uint8_t bits[8] = {0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80};
    uint8_t part = (uint8_t)((position - 1) >> 3), bit = bits[(position - 1) & 7];
    bool medium = which & 1, strong = which & 2;
    lines.next = lines.now;
    put_bit(&lines.next.m_on, part, bit, medium);
    put_bit(&lines.next.m_high, part, bit, medium && high);
    put_bit(&lines.next.s_on, part, bit, strong);
    put_bit(&lines.next.s_high, part, bit, strong && high);
    lines.next_load = 0;
    put_bit(&lines.next_load, part, bit, load);
    return plan(part, part, where);
}

uint16_t lines_planned_ports(void)
{
    return lines.next_ports;
}

/* ----------------------------------------------------------------- doing it */

/* Order: those that go off, then levels, then those that come on. */
void lines_commit(void)
{
    for (uint8_t i = 0; i < lines.touched_count; i++) {
        uint8_t port = lines.touched[i];
        uint8_t off = lines.ddr[port] & (uint8_t)~lines.next_ddr[port];
        if (off) {
            hal_port_ddr(port, off, 0);
            hal_port_out(port, off, 0);
        }
    }
    for (uint8_t i = 0; i < lines.touched_count; i++) {
        uint8_t port = lines.touched[i];
        uint8_t level = (lines.out[port] ^ lines.next_out[port]) & lines.next_ddr[port];
        if (level)
            hal_port_out(port, level, lines.next_out[port]);
    }
    for (uint8_t i = 0; i < lines.touched_count; i++) {
        uint8_t port = lines.touched[i];
        uint8_t on = lines.next_ddr[port] & (uint8_t)~lines.ddr[port];
        if (on)
            hal_port_ddr(port, on, on);
        lines.ddr[port] = lines.next_ddr[port];
        lines.out[port] = lines.next_out[port];
    }
    lines.now = lines.next;
    lines.load = lines.next_load;
    lines.next_ports = 0;
    lines.touched_count = 0;
    recount_watch();
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
        while (!hal_adc_holding())
            ;                 /* < 25 us: a sample is not to be taken meanwhile */
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

uint8_t lines_watch(void)
{
    if (!(lines.now.s_on & ~lines.load))
        return 0;
    for (uint8_t port = 0; port < WIRING_PORTS; port++) {
        uint8_t position = lines.watched[port] ? watch_port(port) : 0;
        if (position)
            return position;
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
