/* Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this.
 * SPDX-License-Identifier: MIT */

#include "protocol.h"

#include <string.h>

uint8_t msg_hello_pack(uint8_t *to, const struct msg_hello *from)
{
    wire_put_u8(to + 0, from->api_level);
    wire_put_u16(to + 1, from->nonce);
    return 3;
}

void msg_hello_unpack(struct msg_hello *to, const uint8_t *from)
{
    to->api_level = wire_get_u8(from + 0);
    to->nonce = wire_get_u16(from + 1);
}

uint8_t msg_welcome_pack(uint8_t *to, const struct msg_welcome *from)
{
    memcpy(to + 0, from->magic, 4);
    wire_put_u8(to + 4, from->api_level);
    wire_put_u16(to + 5, from->nonce);
    wire_put_u32(to + 7, from->wiring_id);
    wire_put_u32(to + 11, from->serial);
    wire_put_u16(to + 15, from->version);
    wire_put_u8(to + 17, from->reset_cause);
    wire_put_u8(to + 18, from->positions);
    return 19;
}

void msg_welcome_unpack(struct msg_welcome *to, const uint8_t *from)
{
    memcpy(to->magic, from + 0, 4);
    to->api_level = wire_get_u8(from + 4);
    to->nonce = wire_get_u16(from + 5);
    to->wiring_id = wire_get_u32(from + 7);
    to->serial = wire_get_u32(from + 11);
    to->version = wire_get_u16(from + 15);
    to->reset_cause = wire_get_u8(from + 17);
    to->positions = wire_get_u8(from + 18);
}

uint8_t msg_ack_pack(uint8_t *to, const struct msg_ack *from)
{
    wire_put_u8(to + 0, from->reason);
    return 1;
}

void msg_ack_unpack(struct msg_ack *to, const uint8_t *from)
{
    to->reason = wire_get_u8(from + 0);
}

uint8_t msg_state_pack(uint8_t *to, const struct msg_state *from)
{
    wire_put_u16(to + 0, from->faults);
    wire_put_u8(to + 2, from->powered);
    wire_put_u8(to + 3, from->pass_running);
    wire_put_u8(to + 4, from->registers_enabled);
    wire_put_u8(to + 5, from->button);
    wire_put_u24(to + 6, from->verified);
    wire_put_u16(to + 9, from->frames_damaged);
    wire_put_u16(to + 11, from->stack_free);
    wire_put_u32(to + 13, from->uptime_ms);
    return 17;
}

void msg_state_unpack(struct msg_state *to, const uint8_t *from)
{
    to->faults = wire_get_u16(from + 0);
    to->powered = wire_get_u8(from + 2);
    to->pass_running = wire_get_u8(from + 3);
    to->registers_enabled = wire_get_u8(from + 4);
    to->button = wire_get_u8(from + 5);
    to->verified = wire_get_u24(from + 6);
    to->frames_damaged = wire_get_u16(from + 9);
    to->stack_free = wire_get_u16(from + 11);
    to->uptime_ms = wire_get_u32(from + 13);
}

uint8_t msg_serial_set_pack(uint8_t *to, const struct msg_serial_set *from)
{
    wire_put_u32(to + 0, from->serial);
    return 4;
}

void msg_serial_set_unpack(struct msg_serial_set *to, const uint8_t *from)
{
    to->serial = wire_get_u32(from + 0);
}

uint8_t msg_pass_begin_pack(uint8_t *to, const struct msg_pass_begin *from)
{
    wire_put_u16(to + 0, from->pass_id);
    return 2;
}

void msg_pass_begin_unpack(struct msg_pass_begin *to, const uint8_t *from)
{
    to->pass_id = wire_get_u16(from + 0);
}

uint8_t msg_readings_pack(uint8_t *to, const struct msg_readings *from)
{
    wire_put_u16(to + 0, from->pass_id);
    wire_put_u32(to + 2, from->first);
    return 6;
}

void msg_readings_unpack(struct msg_readings *to, const uint8_t *from)
{
    to->pass_id = wire_get_u16(from + 0);
    to->first = wire_get_u32(from + 2);
}

uint8_t msg_event_pack(uint8_t *to, const struct msg_event *from)
{
    wire_put_u16(to + 0, from->pass_id);
    wire_put_u8(to + 2, from->kind);
    wire_put_u8(to + 3, from->position);
    wire_put_u16(to + 4, from->value);
    wire_put_u32(to + 6, from->reading);
    return 10;
}

void msg_event_unpack(struct msg_event *to, const uint8_t *from)
{
    to->pass_id = wire_get_u16(from + 0);
    to->kind = wire_get_u8(from + 2);
    to->position = wire_get_u8(from + 3);
    to->value = wire_get_u16(from + 4);
    to->reading = wire_get_u32(from + 6);
}

uint8_t msg_pass_done_pack(uint8_t *to, const struct msg_pass_done *from)
{
    wire_put_u16(to + 0, from->pass_id);
    wire_put_u8(to + 2, from->status);
    wire_put_u32(to + 3, from->steps);
    wire_put_u32(to + 7, from->readings);
    wire_put_u32(to + 11, from->conversions);
    wire_put_u32(to + 15, from->elapsed_us);
    return 19;
}

void msg_pass_done_unpack(struct msg_pass_done *to, const uint8_t *from)
{
    to->pass_id = wire_get_u16(from + 0);
    to->status = wire_get_u8(from + 2);
    to->steps = wire_get_u32(from + 3);
    to->readings = wire_get_u32(from + 7);
    to->conversions = wire_get_u32(from + 11);
    to->elapsed_us = wire_get_u32(from + 15);
}

uint8_t msg_flags(uint8_t id)
{
    switch (id) {
    case MSG_HELLO:
        return MSG_FROM_HOST;
    case MSG_WELCOME:
        return MSG_FROM_DEVICE;
    case MSG_ACK:
        return MSG_FROM_HOST | MSG_FROM_DEVICE;
    case MSG_HALT:
        return MSG_FROM_HOST;
    case MSG_STATE_REQUEST:
        return MSG_FROM_HOST;
    case MSG_STATE:
        return MSG_FROM_DEVICE;
    case MSG_CLEAR_FAULTS:
        return MSG_NUMBERED | MSG_FROM_HOST;
    case MSG_SERIAL_SET:
        return MSG_NUMBERED | MSG_FROM_HOST;
    case MSG_PASS_BEGIN:
        return MSG_NUMBERED | MSG_FROM_HOST;
    case MSG_STEPS:
        return MSG_NUMBERED | MSG_FROM_HOST;
    case MSG_READINGS:
        return MSG_NUMBERED | MSG_FROM_DEVICE;
    case MSG_EVENT:
        return MSG_NUMBERED | MSG_FROM_DEVICE;
    case MSG_PASS_DONE:
        return MSG_NUMBERED | MSG_FROM_DEVICE;
    default:
        return 0;
    }
}

bool msg_length_ok(uint8_t id, uint8_t length)
{
    switch (id) {
    case MSG_HELLO:
        return length == 3;
    case MSG_WELCOME:
        return length == 19;
    case MSG_ACK:
        return length == 1;
    case MSG_HALT:
        return length == 0;
    case MSG_STATE_REQUEST:
        return length == 0;
    case MSG_STATE:
        return length == 17;
    case MSG_CLEAR_FAULTS:
        return length == 0;
    case MSG_SERIAL_SET:
        return length == 4;
    case MSG_PASS_BEGIN:
        return length == 2;
    case MSG_STEPS:
        return length <= FRAME_PAYLOAD_MAX;
    case MSG_READINGS:
        return length <= FRAME_PAYLOAD_MAX && length >= 6 && (length - 6) % 2 == 0;
    case MSG_EVENT:
        return length == 10;
    case MSG_PASS_DONE:
        return length == 19;
    default:
        return false;
    }
}

bool step_drive_unpack(struct step_drive *to, const uint8_t *from)
{
    to->m_on = wire_get_u24(from + 0);
    to->m_high = wire_get_u24(from + 3);
    to->s_on = wire_get_u24(from + 6);
    to->s_high = wire_get_u24(from + 9);
    return true;
}

bool step_levels_unpack(struct step_levels *to, const uint8_t *from)
{
    to->high = wire_get_u24(from + 0);
    return true;
}

bool step_pin_unpack(struct step_pin *to, const uint8_t *from)
{
    to->position = wire_get_u8(from + 0);
    to->lines = wire_get_u8(from + 1);
    to->high = wire_get_u8(from + 2);
    return to->position >= 1 && to->position <= 24 && to->lines <= 3 && to->high <= 1;
}

bool step_sense_unpack(struct step_sense *to, const uint8_t *from)
{
    to->position = wire_get_u8(from + 0);
    to->load = wire_get_u8(from + 1);
    to->ld = wire_get_u8(from + 2);
    return to->position <= 24 && to->load <= 7 && to->ld <= 2;
}

bool step_reference_unpack(struct step_reference *to, const uint8_t *from)
{
    to->reference = wire_get_u8(from + 0);
    return to->reference <= 2;
}

bool step_settle_unpack(struct step_settle *to, const uint8_t *from)
{
    to->us = wire_get_u16(from + 0);
    return true;
}

bool step_read_unpack(struct step_read *to, const uint8_t *from)
{
    to->source = wire_get_u8(from + 0);
    to->repeats = wire_get_u8(from + 1);
    return to->source <= 3 && to->repeats >= 1 && to->repeats <= 64;
}

bool step_scan_unpack(struct step_scan *to, const uint8_t *from)
{
    to->mask = wire_get_u24(from + 0);
    to->repeats = wire_get_u8(from + 3);
    return to->repeats >= 1 && to->repeats <= 64;
}

bool step_load_unpack(struct step_load *to, const uint8_t *from)
{
    to->position = wire_get_u8(from + 0);
    to->lines = wire_get_u8(from + 1);
    to->load = wire_get_u8(from + 2);
    to->high = wire_get_u8(from + 3);
    to->also = wire_get_u8(from + 4);
    to->repeats = wire_get_u8(from + 5);
    to->settle_us = wire_get_u16(from + 6);
    return to->position >= 1 && to->position <= 24 && to->lines <= 3 && to->load <= 7 && to->high <= 1 && to->also <= 24 && to->repeats >= 1 && to->repeats <= 64 && to->settle_us <= 5000;
}

bool step_power_on_unpack(struct step_power_on *to, const uint8_t *from)
{
    to->supply = wire_get_u8(from + 0);
    to->supply_2 = wire_get_u8(from + 1);
    to->ground = wire_get_u8(from + 2);
    to->limit = wire_get_u16(from + 3);
    return to->supply >= 1 && to->supply <= 24 && to->supply_2 <= 24 && to->ground <= 24 && to->limit <= 1023;
}

bool step_level_unpack(struct step_level *to, const uint8_t *from)
{
    to->code = wire_get_u16(from + 0);
    return to->code <= 1023;
}

bool step_verify_unpack(struct step_verify *to, const uint8_t *from)
{
    to->position = wire_get_u8(from + 0);
    return to->position >= 1 && to->position <= 24;
}

bool step_pulse_unpack(struct step_pulse *to, const uint8_t *from)
{
    to->position = wire_get_u8(from + 0);
    to->count = wire_get_u16(from + 1);
    return to->position >= 1 && to->position <= 24 && to->count >= 1;
}

bool step_ground_unpack(struct step_ground *to, const uint8_t *from)
{
    to->position = wire_get_u8(from + 0);
    return to->position <= 24;
}

bool step_load_scan_unpack(struct step_load_scan *to, const uint8_t *from)
{
    to->mask = wire_get_u24(from + 0);
    to->high = wire_get_u24(from + 3);
    to->lines = wire_get_u8(from + 6);
    to->load = wire_get_u8(from + 7);
    to->repeats = wire_get_u8(from + 8);
    to->settle_us = wire_get_u16(from + 9);
    return to->lines <= 3 && to->load <= 7 && to->repeats >= 1 && to->repeats <= 64 && to->settle_us <= 5000;
}

bool step_ramp_unpack(struct step_ramp *to, const uint8_t *from)
{
    to->position = wire_get_u8(from + 0);
    to->watch = wire_get_u8(from + 1);
    to->first = wire_get_u16(from + 2);
    to->last = wire_get_u16(from + 4);
    to->step_us = wire_get_u16(from + 6);
    to->repeats = wire_get_u8(from + 8);
    to->settle_us = wire_get_u16(from + 9);
    return to->position >= 1 && to->position <= 24 && to->watch >= 1 && to->watch <= 24 && to->first <= 1023 && to->last <= 1023 && to->step_us >= 50 && to->repeats >= 1 && to->repeats <= 64;
}

bool step_deadman_unpack(struct step_deadman *to, const uint8_t *from)
{
    to->high = wire_get_u8(from + 0);
    return to->high <= 1;
}

bool step_registers_unpack(struct step_registers *to, const uint8_t *from)
{
    to->pattern = wire_get_u24(from + 0);
    return true;
}

bool step_one_shot_unpack(struct step_one_shot *to, const uint8_t *from)
{
    to->trigger = wire_get_u8(from + 0);
    to->watch = wire_get_u8(from + 1);
    to->again = wire_get_u8(from + 2);
    return to->trigger >= 1 && to->trigger <= 24 && to->watch >= 1 && to->watch <= 24 && to->again <= 16;
}

const uint8_t step_length[STEP_COUNT] = {
    0,  /* end */
    0,  /* idle */
    12,  /* drive */
    3,  /* levels */
    3,  /* pin */
    3,  /* sense */
    1,  /* reference */
    2,  /* settle */
    2,  /* read */
    4,  /* scan */
    8,  /* load */
    5,  /* power_on */
    0,  /* power_off */
    2,  /* level */
    1,  /* verify */
    3,  /* pulse */
    1,  /* ground */
    11,  /* load_scan */
    11,  /* ramp */
    0,  /* lines_read */
    1,  /* deadman */
    3,  /* registers */
    0,  /* supply_span */
    3,  /* one_shot */
};

static inline uint8_t bits(uint32_t mask)
{
    uint8_t count = 0;
    for (; mask; mask &= mask - 1)
        count++;
    return count;
}

uint8_t step_readings(const uint8_t *step)
{
    switch (step[0]) {
    case STEP_READ:
        return 1;
    case STEP_SCAN:
        return (uint8_t)(bits(wire_get_u24(step + 1)));
    case STEP_LOAD:
        return (uint8_t)(1 + (wire_get_u8(step + 5) != 0));
    case STEP_POWER_ON:
        return 1;
    case STEP_VERIFY:
        return 2;
    case STEP_LOAD_SCAN:
        return (uint8_t)(bits(wire_get_u24(step + 1)));
    case STEP_RAMP:
        return 3;
    case STEP_LINES_READ:
        return 2;
    case STEP_DEADMAN:
        return 2;
    case STEP_REGISTERS:
        return 2;
    case STEP_SUPPLY_SPAN:
        return 4;
    case STEP_ONE_SHOT:
        return 2;
    default:
        return 0;
    }
}
