/* specimen.h: one built fixture, as the network needs it: how it is wired
 * (indices) and what its parts happen to measure (drawn values).
 *
 * Python fills it from hardware/wiring.toml and a seed (specimen.py); it finds the
 * layout by reading this file, so keep one plain `type name[size]...;` a line.
 * Units: volts, amperes, ohms, farads, seconds.  A controller pin is numbered
 * port * 8 + bit with ports A B C D E F G H J K L = 0..10; -1 is "not there".
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef VIRTUAL_FIXTURE_SPECIMEN_H
#define VIRTUAL_FIXTURE_SPECIMEN_H

#include <stdint.h>

#define PORTS 11
#define PINS 88
#define SEATS 25 /* index 1..24 is a socket position, 0 unused */
#define MUXES 3
#define CHANNELS 8
#define GROUPS 5
#define OUTPUTS 24 /* of the register chain */
#define BRIDGES 4

/* What a controller pin is wired to. */
enum pin_net {
    NET_NONE, NET_STRONG, NET_MEDIUM, NET_K, NET_ICC, NET_VDAC, NET_VREF, NET_LD, NET_PWM, NET_PUMP, NET_OE_N,
    NET_BUTTON, NET_LAMP, NET_LATCH, NET_SER_OUT, NET_SER_CLK, NET_SER_BACK, NET_INH, NET_RXD, NET_TXD
};

/* What the load selector ties to node K. */
enum load_kind { LOAD_NONE, LOAD_LD, LOAD_VDAC, LOAD_VREF, LOAD_GND };

/* What is wrong with a controller pin, a register output or a transistor. */
enum fault { FAULT_NONE, FAULT_LOW, FAULT_HIGH, FAULT_OPEN, FAULT_SHORT };

/* An end of a bridge: a controller pin below PINS, else one of these. */
enum { END_NODE = PINS, END_GROUND = 2 * PINS };

struct specimen {
    /* controller pins */
    int32_t pin_net[PINS];
    int32_t pin_index[PINS];
    int32_t pin_group[PINS];
    double driver_high_ohm[PINS];
    double driver_low_ohm[PINS];
    double pull_up_ohm[PINS];
    double pin_threshold[PINS];
    double pin_hysteresis_v;
    double group_limit_a[GROUPS];
    double pin_limit_a;
    double total_limit_a;

    /* socket positions */
    int32_t strong_pin[SEATS];
    int32_t medium_pin[SEATS];
    double strong_ohm[SEATS];
    double medium_ohm[SEATS];
    double leak_up_s[SEATS];
    double leak_down_s[SEATS];
    double position_f[SEATS];

    /* sense node K and load selector */
    int32_t inh_pin[MUXES];
    int32_t sense_position[MUXES][CHANNELS];
    int32_t sense_bit[3];
    int32_t load_bit[3];
    double sense_ron_ohm[MUXES][CHANNELS];
    double load_ron_ohm[CHANNELS];
    double mux_peak;
    double mux_limit_a;
    int32_t load_kind[CHANNELS];
    double load_ohm[CHANNELS];
    double k_leak_up_s;
    double k_leak_down_s;
    double k_f;
    int32_t ld_pin;

    /* level drive */
    double filter_1_ohm;
    double filter_1_f;
    double filter_2_ohm;
    double filter_2_f;
    double buffer_offset_v;
    double buffer_ohm;

    /* rails and references */
    double usb_v;
    double usb_ohm;
    double board_a;
    double rail_f;
    double reference_v;
    double reference_ohm;
    double reference_bias_ohm;

    /* power switches; bit: number in the register chain, register * 8 + output */
    int32_t supply_bit[SEATS];
    int32_t ground_bit[SEATS];
    double supply_sat_v[SEATS];
    double supply_sat_ohm[SEATS];
    double supply_beta[SEATS];
    double supply_base_ohm[SEATS];
    double supply_off_ohm[SEATS];
    double supply_leak_s[SEATS];
    double ground_sat_v[SEATS];
    double ground_sat_ohm[SEATS];
    double ground_beta[SEATS];
    double ground_base_ohm[SEATS];
    double ground_off_ohm[SEATS];
    double ground_leak_s[SEATS];
    double base_v;
    int32_t gated[3];
    int32_t power_up_bits;

    /* supply current */
    double shunt_ohm;
    double pedestal_ohm;
    double vbus_f;
    double icc_offset_v;
    double icc_in_ohm;
    double icc_out_ohm;
    double icc_alpha;
    double icc_headroom_v;
    double trip_upper_ohm;
    double trip_lower_ohm;
    double trip_offset_v;
    double trip_delay_s;

    /* dead-man */
    int32_t pump_pin;
    double pump_couple_f;
    double pump_store_f;
    double pump_leak_ohm;
    double pump_diode_v;
    double enable_base_ohm;
    double enable_base_v;
    double enable_beta;
    double enable_pull_ohm;
    double enable_threshold;
    double trip_base_ohm;
    double trip_beta;

    /* converter */
    double adc_offset_lsb;
    double adc_gain;
    double adc_inl_lsb[3];
    double adc_inl_phase[3];
    double adc_noise_lsb;
    double adc_sample_ohm;
    double adc_sample_f;
    double adc_reference_v[4];
    double adc_reference_tau_s;
    uint64_t adc_noise_seed;

    /* what else is wired to a pin */
    int32_t pwm_pin;
    int32_t latch_pin;
    int32_t ser_out_pin;
    int32_t ser_clk_pin;
    int32_t ser_back_pin;
    double lamp_ohm;
    double lamp_v;

    /* what is broken: see defects.py */
    int32_t pin_fault[PINS];
    int32_t output_fault[OUTPUTS];
    int32_t enable_fault;
    int32_t trip_fault;
    int32_t pin_bridge[PINS];
    int32_t bridges;
    int32_t bridge_a[BRIDGES];
    int32_t bridge_b[BRIDGES];
    double bridge_ohm[BRIDGES];
};

#endif
