/* Written by `python -m hardware.derive` from hardware/wiring.toml: change that, not this.
 * SPDX-License-Identifier: CERN-OHL-S-2.0 */

#ifndef SAGBENCH_GEN_WIRING_H
#define SAGBENCH_GEN_WIRING_H

#include <stdint.h>

#define WIRING_ID 0x06E807EDUL  /* CRC-32 of the wiring */
#define WIRING_ID_STRAPPED 0x3A8F3943UL  /* of bench16, which ties the strap to ground */
#define WIRING_POSITIONS 24
#define WIRING_PORTS 11  /* port index: A B C D E F G H J K L = 0..10 */
#define WIRING_GROUPS 5  /* groups of port pins whose currents add */
#define WIRING_REGISTERS 3  /* index 0 is nearest to the controller and shifted last */
#define WIRING_SUPPLIES 4
#define WIRING_GROUNDS 7
#define WIRING_MUXES 3  /* sense multiplexers */
#define WIRING_TOTAL_BUDGET 1950  /* 0.1 mA, all port pins together */
#define WIRING_PIN_LIMIT 400  /* 0.1 mA */
#define WIRING_STRONG_SHORT 183  /* 0.1 mA, worst of an S line into a short */
#define WIRING_MEDIUM_SHORT 92  /* 0.1 mA, worst of an M line into a short */
#define WIRING_VERIFIED_PIN 40  /* 0.1 mA, what a verified S line counts */
#define WIRING_LOAD_OUTPUTS 1  /* positions under load at once */
#define WIRING_LEASE_MS 2000U
#define WIRING_WATCHDOG_MS 60
#define WIRING_DEAD_MAN_MS 55  /* PUMP still for so long: switches off */
#define WIRING_STRONG_UNWATCHED_US 1000U  /* longest strong drive against a short */
#define WIRING_DISCHARGE_MS 5
#define WIRING_RAIL_SHORT_CODE 52  /* avcc code, below: rails shorted */
#define WIRING_VERIFY_LOW_MAX 224  /* avcc code, S low: above is not verified */
#define WIRING_VERIFY_HIGH_MIN 800  /* avcc code, S high: below is not verified */
#define WIRING_TRIP_ICC_CODE 704  /* avcc code of ICC where the trip lets go */
#define WIRING_CLOCK_HZ 16000000UL
#define WIRING_ADC_PRESCALER 128
#define WIRING_ADC_CONVERSION_US 104
#define WIRING_AREF_SETTLE_MS 20  /* after a change of reference */
#define WIRING_ADDRESS_REGISTER 0  /* index of the register of multiplexer addresses */

/* Single lines: port index and bit. */
#define WIRING_RXD_PORT 4  /* PE0 */
#define WIRING_RXD_BIT 0
#define WIRING_TXD_PORT 4  /* PE1 */
#define WIRING_TXD_BIT 1
#define WIRING_OE_N_PORT 4  /* PE4 */
#define WIRING_OE_N_BIT 4
#define WIRING_BUTTON_PORT 4  /* PE5 */
#define WIRING_BUTTON_BIT 5
#define WIRING_LD_PORT 1  /* PB4 */
#define WIRING_LD_BIT 4
#define WIRING_PWM_PORT 1  /* PB5 */
#define WIRING_PWM_BIT 5
#define WIRING_PUMP_PORT 1  /* PB6 */
#define WIRING_PUMP_BIT 6
#define WIRING_LAMP_PORT 1  /* PB7 */
#define WIRING_LAMP_BIT 7
#define WIRING_SER_BACK_PORT 1  /* PB3 */
#define WIRING_SER_BACK_BIT 3
#define WIRING_SER_OUT_PORT 1  /* PB2 */
#define WIRING_SER_OUT_BIT 2
#define WIRING_SER_CLK_PORT 1  /* PB1 */
#define WIRING_SER_CLK_BIT 1
#define WIRING_LATCH_PORT 1  /* PB0 */
#define WIRING_LATCH_BIT 0
#define WIRING_INH_A_PORT 10  /* PL3 */
#define WIRING_INH_A_BIT 3
#define WIRING_INH_B_PORT 10  /* PL2 */
#define WIRING_INH_B_BIT 2
#define WIRING_INH_C_PORT 10  /* PL1 */
#define WIRING_INH_C_BIT 1
#define WIRING_STRAP_PORT 10  /* PL0 */
#define WIRING_STRAP_BIT 0
#define WIRING_ADC_K 0  /* converter channel */
#define WIRING_ADC_ICC 1  /* converter channel */
#define WIRING_ADC_VDAC 2  /* converter channel */
#define WIRING_ADC_VREF 3  /* converter channel */

struct wiring_line {
    uint8_t port;   /* index */
    uint8_t mask;   /* of its bit */
    uint8_t group;  /* index of its port group */
};
struct wiring_sense {
    uint8_t mux;      /* 0..WIRING_MUXES-1: which INH line */
    uint8_t channel;  /* 0..7 */
};
struct wiring_switch {
    uint8_t position;
    uint8_t reg;   /* index of the register */
    uint8_t mask;  /* of the output's bit */
};

/* Index: position - 1. */
extern const struct wiring_line wiring_medium[WIRING_POSITIONS];
extern const struct wiring_line wiring_strong[WIRING_POSITIONS];
extern const struct wiring_sense wiring_sense[WIRING_POSITIONS];
/* By port index: which of its bits are M or S lines. */
extern const uint8_t wiring_medium_mask[WIRING_PORTS];
extern const uint8_t wiring_strong_mask[WIRING_PORTS];
/* INH lines of the sense multiplexers: low selects. */
extern const struct wiring_line wiring_inhibit[WIRING_MUXES];
/* Channel -> bits of the address register; sense and load bits are ORed. */
extern const uint8_t wiring_sense_bits[8];
extern const uint8_t wiring_load_bits[8];
/* Supply (P) switches are on with the output LOW, ground (N) switches with it HIGH. */
extern const struct wiring_switch wiring_supply[WIRING_SUPPLIES];
extern const struct wiring_switch wiring_ground[WIRING_GROUNDS];
/* Register contents with every switch off. */
extern const uint8_t wiring_registers_off[WIRING_REGISTERS];
/* 0.1 mA: limit of a port group; the sum of sinking lines and that of sourcing lines each obey it. */
extern const uint16_t wiring_group_limit[WIRING_GROUPS];
/* 0.1 mA: worst current of LD through each load selector channel into a short. */
extern const uint16_t wiring_load_short[8];
/* Microseconds for node K and a position to settle, by load selector channel. */
extern const uint16_t wiring_settle_us[8];
/* avcc codes that mean a short in a `load` step, by its `lines`: loaded up, at most; loaded down, at least. */
extern const int16_t wiring_short_low_max[4];
extern const int16_t wiring_short_high_min[4];
/* REFS1:0, by enum reference of the protocol. */
extern const uint8_t wiring_reference_bits[3];

#endif
