/* Written by `python -m hardware.derive` from hardware/wiring.toml: change that, not this.
 * SPDX-License-Identifier: CERN-OHL-S-2.0 */

#include "wiring.h"

const struct wiring_line wiring_medium[WIRING_POSITIONS] = {
    { 9, 0x40, 4 },
    { 9, 0x10, 4 },
    { 9, 0x04, 4 },
    { 9, 0x01, 4 },
    { 5, 0x40, 4 },
    { 5, 0x10, 4 },
    { 3, 0x08, 1 },
    { 7, 0x02, 2 },
    { 8, 0x02, 0 },
    { 4, 0x08, 3 },
    { 7, 0x10, 2 },
    { 7, 0x40, 2 },
    { 10, 0x20, 1 },
    { 10, 0x80, 1 },
    { 6, 0x02, 1 },
    { 3, 0x80, 1 },
    { 2, 0x02, 1 },
    { 2, 0x08, 1 },
    { 2, 0x20, 1 },
    { 2, 0x80, 1 },
    { 0, 0x40, 0 },
    { 0, 0x10, 0 },
    { 0, 0x04, 0 },
    { 0, 0x01, 0 },
};

const struct wiring_line wiring_strong[WIRING_POSITIONS] = {
    { 9, 0x80, 4 },
    { 9, 0x20, 4 },
    { 9, 0x08, 4 },
    { 9, 0x02, 4 },
    { 5, 0x80, 4 },
    { 5, 0x20, 4 },
    { 3, 0x04, 1 },
    { 7, 0x01, 2 },
    { 8, 0x01, 0 },
    { 6, 0x20, 3 },
    { 7, 0x08, 2 },
    { 7, 0x20, 2 },
    { 10, 0x10, 1 },
    { 10, 0x40, 1 },
    { 6, 0x01, 1 },
    { 6, 0x04, 0 },
    { 2, 0x01, 1 },
    { 2, 0x04, 1 },
    { 2, 0x10, 1 },
    { 2, 0x40, 1 },
    { 0, 0x80, 0 },
    { 0, 0x20, 0 },
    { 0, 0x08, 0 },
    { 0, 0x02, 0 },
};

const struct wiring_sense wiring_sense[WIRING_POSITIONS] = {
    { 0, 0 },
    { 0, 1 },
    { 0, 2 },
    { 0, 3 },
    { 0, 4 },
    { 0, 5 },
    { 0, 6 },
    { 0, 7 },
    { 1, 0 },
    { 1, 1 },
    { 1, 2 },
    { 1, 3 },
    { 1, 4 },
    { 1, 5 },
    { 1, 6 },
    { 1, 7 },
    { 2, 0 },
    { 2, 1 },
    { 2, 2 },
    { 2, 3 },
    { 2, 4 },
    { 2, 5 },
    { 2, 6 },
    { 2, 7 },
};

const uint8_t wiring_medium_mask[WIRING_PORTS] = {
    0x55,
    0x00,
    0xAA,
    0x88,
    0x08,
    0x50,
    0x02,
    0x52,
    0x02,
    0x55,
    0xA0,
};

const uint8_t wiring_strong_mask[WIRING_PORTS] = {
    0xAA,
    0x00,
    0x55,
    0x04,
    0x00,
    0xA0,
    0x25,
    0x29,
    0x01,
    0xAA,
    0x50,
};

const struct wiring_line wiring_inhibit[WIRING_MUXES] = {
    { 10, 0x08, 1 },
    { 10, 0x04, 1 },
    { 10, 0x02, 1 },
};

const uint8_t wiring_sense_bits[8] = {
    0x00,
    0x01,
    0x02,
    0x03,
    0x04,
    0x05,
    0x06,
    0x07,
};

const uint8_t wiring_load_bits[8] = {
    0x00,
    0x08,
    0x10,
    0x18,
    0x20,
    0x28,
    0x30,
    0x38,
};

const struct wiring_switch wiring_supply[WIRING_SUPPLIES] = {
    { 24, 2, 0x80 },
    { 4, 2, 0x01 },
    { 5, 2, 0x40 },
    { 1, 2, 0x02 },
};

const struct wiring_switch wiring_ground[WIRING_GROUNDS] = {
    { 7, 1, 0x80 },
    { 8, 1, 0x02 },
    { 9, 1, 0x20 },
    { 10, 1, 0x04 },
    { 12, 1, 0x10 },
    { 20, 1, 0x40 },
    { 21, 1, 0x01 },
};

const uint8_t wiring_registers_off[WIRING_REGISTERS] = {
    0x00,
    0x00,
    0xC3,
};

const uint16_t wiring_group_limit[WIRING_GROUPS] = {
    2000,
    2000,
    2000,
    1000,
    1000,
};

const uint16_t wiring_load_short[8] = {
    0,
    7,
    1,
    47,
    0,
    156,
    0,
    0,
};

const uint16_t wiring_settle_us[8] = {
    2,
    11,
    128,
    2,
    2,
    1,
    2,
    2,
};

const int16_t wiring_short_low_max[4] = {
    -1,
    -1,
    10,
    12,
};

const int16_t wiring_short_high_min[4] = {
    1024,
    1024,
    1008,
    1003,
};

const uint8_t wiring_reference_bits[3] = {
    1,
    3,
    2,
};
