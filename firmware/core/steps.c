/* SPDX-License-Identifier: MIT */
/* Which function carries out a step, what it needs before it starts, how it is unpacked. */
#include "core/steps.h"

struct step_kind {
    enum step_answer (*carry_out)(struct step_run *run);
    uint8_t need;
};

static const struct step_kind kinds[STEP_COUNT] = {
    [STEP_END] = {0, DRAINED},
    [STEP_IDLE] = {step_do_idle, DRAINED},
    [STEP_DRIVE] = {step_do_drive, PLANS},
    [STEP_LEVELS] = {step_do_levels, PLANS},
    [STEP_PIN] = {step_do_pin, PLANS},
    [STEP_SENSE] = {step_do_sense, SAMPLED},
    [STEP_REFERENCE] = {step_do_reference, DRAINED},
    [STEP_SETTLE] = {step_do_settle, SAMPLED},
    [STEP_READ] = {step_do_read, NOTHING},
    [STEP_SCAN] = {step_do_scan, NOTHING},
    [STEP_LOAD] = {step_do_load, DRAINED},
    [STEP_POWER_ON] = {step_do_power_on, DRAINED},
    [STEP_POWER_OFF] = {step_do_power_off, DRAINED},
    [STEP_LEVEL] = {step_do_level, SAMPLED},
    [STEP_VERIFY] = {step_do_verify, DRAINED},
    [STEP_PULSE] = {step_do_pulse, DRAINED},
    [STEP_GROUND] = {step_do_ground, DRAINED},
    [STEP_LOAD_SCAN] = {step_do_load_scan, SAMPLED},
    [STEP_RAMP] = {step_do_ramp, DRAINED},
    [STEP_LINES_READ] = {step_do_lines_read, DRAINED},
    [STEP_DEADMAN] = {step_do_deadman, DRAINED},
    [STEP_REGISTERS] = {step_do_registers, DRAINED},
    [STEP_SUPPLY_SPAN] = {step_do_supply_span, DRAINED},
    [STEP_ONE_SHOT] = {step_do_one_shot, DRAINED},
};

bool step_unpack(struct step_run *run, const uint8_t *from)
{
    switch (run->code) {
    case STEP_DRIVE:
        return step_drive_unpack(&run->with.drive, from);
    case STEP_LEVELS:
        return step_levels_unpack(&run->with.levels, from);
    case STEP_PIN:
        return step_pin_unpack(&run->with.pin, from);
    case STEP_SENSE:
        return step_sense_unpack(&run->with.sense, from);
    case STEP_REFERENCE:
        return step_reference_unpack(&run->with.reference, from);
    case STEP_SETTLE:
        return step_settle_unpack(&run->with.settle, from);
    case STEP_READ:
        return step_read_unpack(&run->with.read, from);
    case STEP_SCAN:
        return step_scan_unpack(&run->with.scan, from);
    case STEP_LOAD:
        return step_load_unpack(&run->with.load, from);
    case STEP_POWER_ON:
        return step_power_on_unpack(&run->with.power_on, from);
    case STEP_LEVEL:
        return step_level_unpack(&run->with.level, from);
    case STEP_VERIFY:
        return step_verify_unpack(&run->with.verify, from);
    case STEP_PULSE:
        return step_pulse_unpack(&run->with.pulse, from);
    case STEP_GROUND:
        return step_ground_unpack(&run->with.ground, from);
    case STEP_LOAD_SCAN:
        return step_load_scan_unpack(&run->with.load_scan, from);
    case STEP_RAMP:
        return step_ramp_unpack(&run->with.ramp, from);
    case STEP_DEADMAN:
        return step_deadman_unpack(&run->with.deadman, from);
    case STEP_REGISTERS:
        return step_registers_unpack(&run->with.registers, from);
    case STEP_ONE_SHOT:
        return step_one_shot_unpack(&run->with.one_shot, from);
    default:
        return true;      /* end, idle, power_off, lines_read, supply_span have no arguments */
    }
}

uint8_t step_needs(uint8_t code)
{
    return kinds[code].need;
}

enum step_answer step_carry_out(struct step_run *run)
{
    return kinds[run->code].carry_out(run);
}
