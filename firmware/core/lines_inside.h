/* SPDX-License-Identifier: MIT */
/* Shared by lines.c, which plans and sets, and lines_watch.c, which looks whether it worked. */
#ifndef CORE_LINES_INSIDE_H
#define CORE_LINES_INSIDE_H
#include "core/lines.h"

#define OCTETS (WIRING_POSITIONS / 8)

struct load_lines {
    uint8_t position, lines;            /* 0: none */
    bool high;
};

struct lines_state {
    struct step_drive now;
    uint32_t verified;
    struct load_lines load, load_next;  /* under load, not among `now`; the budget counts load_next, which may be another one */
    uint8_t ddr[WIRING_PORTS], out[WIRING_PORTS];

    struct step_drive next;
    uint8_t next_ddr[WIRING_PORTS], next_out[WIRING_PORTS];
    uint8_t touched[WIRING_PORTS], touched_count;
    uint16_t next_ports;                /* the same as bits */
    bool levels_only;                   /* no line goes off or comes on */

    /* Strong lines are watched at the M pins of their positions. */
    uint8_t watched[WIRING_PORTS], expected[WIRING_PORTS];
    bool watch_stale;                   /* they are of another `now` */
};

extern struct lines_state lines;

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

#endif
