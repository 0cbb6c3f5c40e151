/* SPDX-License-Identifier: MIT */
#include "core/positions.h"

#include "gen/wiring.h"

#define OCTETS (WIRING_POSITIONS / 8)

static const uint8_t bit_of[8] = {0x01, 0x02, 0x04, 0x08, 0x10, 0x20, 0x40, 0x80};

_Static_assert(__BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__, "byte 0 has positions 1..8");

uint8_t position_behind(const uint32_t *mask, uint8_t position)
{
    const uint8_t *octets = (const uint8_t *)mask;
    uint8_t part = position >> 3;
    if (part >= OCTETS)
        return 0;
    uint8_t left = octets[part] & (uint8_t)-bit_of[position & 7];
    while (!left) {
        if (++part == OCTETS)
            return 0;
        left = octets[part];
    }
    for (position = (uint8_t)(8 * part + 1); !(left & 1); left >>= 1)
        position++;
    return position;
}

bool position_in(const uint32_t *mask, uint8_t position)
{
    const uint8_t *octets = (const uint8_t *)mask;
    return octets[(uint8_t)(position - 1) >> 3] & bit_of[(position - 1) & 7];
}
