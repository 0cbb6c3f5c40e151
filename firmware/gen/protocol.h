/* Written by `python -m protocol.derive` from protocol/spec.toml: change that, not this.
 * SPDX-License-Identifier: MIT */

#ifndef SAGBENCH_GEN_PROTOCOL_H
#define SAGBENCH_GEN_PROTOCOL_H

#include <stdbool.h>
#include <stdint.h>

#define PROTOCOL_API_LEVEL 4
#define PROTOCOL_BAUD 500000UL
#define FRAME_DELIMITER 0
#define FRAME_WINDOW 4
#define FRAME_BURST 224  /* bytes of numbered frames under way from the host at most */
#define FRAME_PAYLOAD_MAX 96
#define FRAME_HEADER_SIZE 4
#define FRAME_SEQ 0  /* offset: number of this frame in its sender's stream; of an unnumbered message, the number of the next one */
#define FRAME_ACK 1  /* offset: number of the next frame the sender expects: all before it have arrived */
#define FRAME_ROOM 2  /* offset: numbered frames beyond ack that the sender has room for */
#define FRAME_ID 3  /* offset: which message the payload is */
#define FRAME_CRC_SIZE 2  /* big-endian, behind the payload */
#define FRAME_CRC_POLY 0x1021U  /* CRC-16/IBM-3740 */
#define FRAME_CRC_INIT 0xFFFFU
#define FRAME_CRC_CHECK 0x29B1U  /* of the text "123456789" */
#define FRAME_RAW_MIN 6  /* bytes before COBS */
#define FRAME_RAW_MAX 102  /* bytes before COBS */
#define FRAME_WIRE_MAX 104  /* bytes on the wire, delimiter counted */
#define READING_NONE 0xFFFFU  /* not measured */
#define TIMING_SILENCE_MS 50U  /* no valid frame from the host for so long while the chip is powered: chip unpowered, all lines off, fault `silence` latched; the session goes on */
#define TIMING_PRESENCE_MS 10U  /* the host sends anything at least so often while the chip is powered, or a pass runs that powers it: `ack` of reason `here` if nothing else */
#define TIMING_LEASE_MS 2000U  /* no valid frame from the host for so long: all lines off, link forgotten */
#define TIMING_KEEP_ALIVE_MS 400U  /* the host sends `ack` at least so often */
#define TIMING_RETRANSMIT_MS 60U  /* a numbered frame without an answer is sent again after this */
#define TIMING_HELLO_MS 250U  /* the host repeats `hello` after this, until `welcome` */
#define TIMING_ACK_DELAY_MS 10U  /* a frame taken is acknowledged within this */
#define TIMING_CONNECT_MS 4000U  /* the host gives up: no device (a controller board restarts when its port is opened) */

/* Messages. */
enum message_id {
    MSG_HELLO         = 0x01,  /* Start a session. The device powers the chip down, unlatches the fault `silence`, forgets both streams and answers `welcome`, whatever the host's API level. This message never changes its fields. */
    MSG_WELCOME       = 0x81,  /* Who the device is. Sent in answer to every `hello`, whatever its API level. */
    MSG_ACK           = 0x02,  /* Nothing but the header's ack and room. */
    MSG_HALT          = 0x03,  /* Everything off now, whatever is under way; a running pass ends with status `halted`. Numbered messages that have come before it and still wait are dropped. Answered by `state`. */
    MSG_STATE_REQUEST = 0x04,  /* Ask for `state`. */
    MSG_STATE         = 0x84,  /* How the device is. */
    MSG_CLEAR_FAULTS  = 0x05,  /* Unlatch faults whose cause is gone. Answered by `state`. */
    MSG_SERIAL_SET    = 0x06,  /* Store this fixture's serial number in EEPROM. Answered by `state`. */
    MSG_PASS_BEGIN    = 0x10,  /* A pass starts: its steps follow in `steps`. Refused with event `busy` while one runs, with `pass_repeated` if the number is that of the last pass of this session; ended at once while the fault `silence` is latched. */
    MSG_STEPS         = 0x11,  /* Whole steps (see the step table), carried out in order as they come. A step is never split over two frames. Outside a pass they are dropped, so that what follows a pass ended by a fault does no harm. */
    MSG_READINGS      = 0x90,  /* Results of reading steps, in order. A reading is the sum of `repeats` conversions; FFFF: not measured (an event says why). */
    MSG_EVENT         = 0x91,  /* Something the host must know, in order with the readings. */
    MSG_PASS_DONE     = 0x92,  /* The pass is over; all its readings and events have been sent before. After any status but `complete` the chip is unpowered. */
};

/* Steps of a pass. */
enum step_code {
    STEP_END         = 0x00,  /* The pass is complete. Power and lines stay as they are (the host must go on speaking). */
    STEP_IDLE        = 0x01,  /* All S and M lines and LD off, K tied to nothing. Power stays. */
    STEP_DRIVE       = 0x02,  /* Set every line. A bit is a position, bit 0 = position 1. Lines change in the order: those that go off, then levels, then those that come on. */
    STEP_LEVELS      = 0x03,  /* New levels for the lines that drive, both M and S; off ones stay off. */
    STEP_PIN         = 0x04,  /* One position's lines. */
    STEP_SENSE       = 0x05,  /* What node K is tied to, and what the load selector ties to K. With load 0 K is tied to ground for some microseconds before a position, so that it remembers nothing of the one before. */
    STEP_REFERENCE   = 0x06,  /* The converter's reference; waits until AREF has settled if it changes. */
    STEP_SETTLE      = 0x07,  /* Wait. */
    STEP_READ        = 0x08,  /* One reading: the sum of so many conversions of one channel. */
    STEP_SCAN        = 0x09,  /* One reading a position of the mask, from position 1 up: K is tied to it (from ground, as in `sense`, if the load selector is open), the load selector and LD stay as they are; K is left at the last. */
    STEP_LOAD        = 0x0A,  /* Load one position and read it: K to the position, load on, settle, one conversion to see whether it is shorted (event `short`, all its readings FFFF, pass goes on, if so), the reading, with the load still on the reading of `also` if not 0, load off. The position's lines are off before and after. */
    STEP_POWER_ON    = 0x0B,  /* Check the rails (supply position through the weak load with the ground switch on), then close the switches, wait 5 ms and read ICC. With ground 0 no rails are checked and only the supply switch closes: the chip has no way back to ground, so the reading is the ICC zero with the switch's own base current (all lines must be off; budget rules as ever). Event `rail_short`, `over_current` or `power_refused` and pass status `fault` if not. One reading on success: ICC, 16 conversions, with avcc as reference; with ground 0 the reference stays what it is, so that the zero needs no change to avcc and back. */
    STEP_POWER_OFF   = 0x0C,  /* Lines off, switches off, verified positions forgotten, then all S low for `discharge_ms`, then off. */
    STEP_LEVEL       = 0x0D,  /* The level drive (PWM): code * 5 V / 1024. Settling is the host's to ask for. */
    STEP_VERIFY      = 0x0E,  /* Powered: drive S low, then high, each under 1 ms, and read K (avcc reference): two readings, one conversion each. If the position followed both it is verified until power goes off; else event `not_verified`. The position's lines are left off. */
    STEP_PULSE       = 0x0F,  /* Invert the driven line or lines of a position and back, so many times, some 5 us each half. */
    STEP_GROUND      = 0x10,  /* Unpowered only: one ground switch on (the others off), or none. For the contact check. */
    STEP_LOAD_SCAN   = 0x11,  /* `load` for one position of the mask after the other, from position 1 up, without `also`: the logic under load in one step, so that the converter and not the line sets the pace. Each is loaded, looked at, read and let go before the next; a shorted one gives event `short` and reading FFFF, and the rest goes on. */
    STEP_RAMP        = 0x12,  /* An input's threshold. K is tied to `position` and the level drive to K, then the lines of both positions go off (the input never floats), and the pull-up of `watch`'s M pin comes on, if it is another position, so that an output that only sinks is seen to let go; the level is set to `first`, and after `settle_us` it moves towards `last`, one code each `step_us`, until the digital input of `watch` (its M line's pin) is no longer what it was before the first move. There it stops, and K and VDAC are converted at once. Readings: the code of the level (as it is, no sum), K, VDAC. K's first conversion begins within 20 us of the change at the pin, or within 60 us where the main loop takes a turn (one in each 500 us). If `last` is reached, it is looked at for `settle_us` more; without a change all three are FFFF. Afterwards the level is 0 and K tied to nothing. */
    STEP_LINES_READ  = 0x13,  /* The digital levels of all positions, read through the pins of the M lines within 20 us, lines and K as they are. Readings: positions 1..12 (bit 0 = position 1), positions 13..24 (bit 0 = position 13). The threshold is the controller's: low below 1.5 V, high above 3 V for certain (data sheet: 0.3 and 0.6 VCC). Settling is the host's to ask for. */
    STEP_DEADMAN     = 0x14,  /* Unpowered only: PUMP stands still at a level until OE_N is released, then pumps again until OE_N is low. Readings: ms until released, ms until low again; 0 if it was so from the beginning, FFFF if not within 200 ms, which latches the fault `dead_man`. */
    STEP_REGISTERS   = 0x15,  /* Shift a pattern through the register chain and what was in it after it, without latching: outputs stay as they are. Readings: bits 0..11 and bits 12..23 of what came back. Bits 0..7 went through the nearest register, 16..23 through the farthest. */
    STEP_SUPPLY_SPAN = 0x16,  /* While the chip is powered and avcc is the reference, the firmware converts VREF and ICC now and then between the steps, once each time and by turns: after some 27 ms of converting and waiting, and after 2 ms where it costs no time (a `settle`, the first `drive` of a pass). Readings: least and greatest code of VREF (greater: the rail lower), least and greatest of ICC, since `power_on` or the last `supply_span`; FFFF where nothing has been looked at. They outlast `power_off`. */
    STEP_ONE_SHOT    = 0x17,  /* A monostable's pulse. The driven line or lines of `trigger` go to their other level and, once the pulse is over, back; eight times, with turns of the main loop between. After each edge the digital input of `watch` (its M line's pin) is looked at each half microsecond without interrupts, 2 us long until the pulse begins and 16 us until it ends, then by the clock for 0.85 ms at most; each of the eight times the looks come 1/16 us (a clock) later, so that together they lie a clock apart. With `again` the edge is given a second time so many looks after the first. Readings: looks at which the pin was not as before the first edge, of all eight: the mean length of the pulse in clocks of 1/16 us (with `again`: counted from the first edge to the pulse's end), 0 if none was seen; and how many of the eight were seen. A pulse that begins more than 2 us after its edge counts as none. FFFE and the number seen so far if the pin has not come back within 30 ms. One edge, not looked at, goes before. K, load selector and the other lines stay as they are: a timing resistor is tied by `sense` before. */
};

#define STEP_COUNT 24
#define STEP_SIZE_MAX 13  /* code and arguments */

enum ack_reason {
    ACK_KEEP_ALIVE = 0,  /* nothing special */
    ACK_GAP        = 1,  /* a frame was not the one expected: send again from ack */
    ACK_DAMAGED    = 2,  /* a frame was damaged: send again from ack */
    ACK_ROOM       = 3,  /* there is room again */
    ACK_REPEATED   = 4,  /* a frame came that had come before: go on from ack */
    ACK_HERE       = 5,  /* the host is there: see `presence_ms` */
};

enum line_level {
    LINE_OFF  = 0,  /* not driven */
    LINE_LOW  = 1,  /* 0 V */
    LINE_HIGH = 2,  /* 5 V */
};

enum reference {
    REF_AVCC  = 0,  /* the 5 V rail */
    REF_V2V56 = 1,  /* the controller's 2.56 V */
    REF_V1V1  = 2,  /* the controller's 1.1 V */
};

enum source {
    SOURCE_K    = 0,  /* node K */
    SOURCE_ICC  = 1,  /* supply current amplifier */
    SOURCE_VDAC = 2,  /* level drive */
    SOURCE_VREF = 3,  /* 2.5 V reference */
};

enum fault {
    FAULT_OVER_CURRENT = 1,  /* ICC above the limit given, or the trip let go of the dead-man */
    FAULT_CONTENTION   = 2,  /* a strong line did not reach its level */
    FAULT_REGISTERS    = 4,  /* the register chain did not return what was shifted */
    FAULT_DEAD_MAN     = 8,  /* OE_N did not follow the pump */
    FAULT_SILENCE      = 16,  /* the host fell silent while the chip was powered */
};

enum event_kind {
    EVENT_BUSY          = 1,  /* `pass_begin` while a pass runs */
    EVENT_PASS_REPEATED = 2,  /* `pass_begin` with the number of the last pass */
    EVENT_SHORT         = 3,  /* `load` found the position shorted; value: code seen */
    EVENT_RAIL_SHORT    = 4,  /* `power_on` found the rails shorted; value: code seen */
    EVENT_OVER_CURRENT  = 5,  /* `power_on` or the trip; value: ICC code */
    EVENT_POWER_REFUSED = 6,  /* a latched fault, or switches that do not exist; value: faults */
    EVENT_NOT_VERIFIED  = 7,  /* `verify` failed, or S asked for where not verified; value: code seen */
    EVENT_CONTENTION    = 8,  /* a strong line was forced by something else; dropped */
    EVENT_BAD_STEP      = 9,  /* a step that cannot be; value: its code */
    EVENT_OVER_BUDGET   = 10,  /* a drive that could exceed a port group's limit; value: group number */
    EVENT_SILENCE       = 11,  /* power was taken away because the host fell silent while the chip was powered */
};

enum pass_status {
    PASS_COMPLETE = 0,  /* to the end */
    PASS_HALTED   = 1,  /* by `halt`, or by a new session */
    PASS_FAULT    = 2,  /* a safety rule; an event says which */
    PASS_BAD_STEP = 3,  /* a step that cannot be */
};

/* Little-endian numbers at any address. */
static inline uint8_t wire_get_u8(const uint8_t *at) { return at[0]; }
static inline uint16_t wire_get_u16(const uint8_t *at) { return (uint16_t)(at[0] | ((uint16_t)at[1] << 8)); }
static inline uint32_t wire_get_u24(const uint8_t *at) { return wire_get_u16(at) | ((uint32_t)at[2] << 16); }
static inline uint32_t wire_get_u32(const uint8_t *at) { return wire_get_u24(at) | ((uint32_t)at[3] << 24); }
static inline void wire_put_u8(uint8_t *at, uint8_t value) { at[0] = value; }
static inline void wire_put_u16(uint8_t *at, uint16_t value)
{
    at[0] = (uint8_t)value;
    at[1] = (uint8_t)(value >> 8);
}
static inline void wire_put_u24(uint8_t *at, uint32_t value)
{
    wire_put_u16(at, (uint16_t)value);
    at[2] = (uint8_t)(value >> 16);
}
static inline void wire_put_u32(uint8_t *at, uint32_t value)
{
    wire_put_u24(at, value);
    at[3] = (uint8_t)(value >> 24);
}

/* Message payloads without their tails; a tail (steps.code, readings.sums) begins at MSG_..._FIXED.
 * pack: write the fixed part, return its size. unpack: read it; the length has been checked by msg_length_ok. */
#define MSG_HELLO_FIXED 3
struct msg_hello {
    uint8_t api_level;  /* the host's API level */
    uint16_t nonce;  /* any number; `welcome` repeats it, so that an old answer is known */
};

uint8_t msg_hello_pack(uint8_t *to, const struct msg_hello *from);
void msg_hello_unpack(struct msg_hello *to, const uint8_t *from);

#define MSG_WELCOME_FIXED 19
struct msg_welcome {
    uint8_t magic[4];  /* the letters SAGB */
    uint8_t api_level;  /* the device's API level; the fields up to here never move */
    uint16_t nonce;  /* of the `hello` */
    uint32_t wiring_id;  /* which build it is: the wiring file the firmware was made from, or its reduced build if the strap pin is tied to ground */
    uint32_t serial;  /* of this fixture, kept in EEPROM; FFFFFFFF if never set */
    uint16_t version;  /* of the firmware, major * 256 + minor */
    uint8_t reset_cause;  /* the controller's MCUSR at start: 1 power-on, 2 external, 4 brown-out, 8 watchdog */
    uint8_t positions;  /* of the socket, positions */
};

uint8_t msg_welcome_pack(uint8_t *to, const struct msg_welcome *from);
void msg_welcome_unpack(struct msg_welcome *to, const uint8_t *from);

#define MSG_ACK_FIXED 1
struct msg_ack {
    uint8_t reason;  /* why it is sent */
};

uint8_t msg_ack_pack(uint8_t *to, const struct msg_ack *from);
void msg_ack_unpack(struct msg_ack *to, const uint8_t *from);

#define MSG_HALT_FIXED 0
#define MSG_STATE_REQUEST_FIXED 0
#define MSG_STATE_FIXED 17
struct msg_state {
    uint16_t faults;  /* latched faults; while any is set no power comes on */
    uint8_t powered;  /* 1 while a supply switch is on */
    uint8_t pass_running;  /* 1 between `pass_begin` and `pass_done` */
    uint8_t registers_enabled;  /* 1 while the dead-man holds OE_N low */
    uint8_t button;  /* 1 while the button is pressed */
    uint32_t verified;  /* positions that `verify` has found free for strong drive, bit 0 = position 1 */
    uint16_t frames_damaged;  /* frames dropped since the start, stays at 65535 */
    uint16_t stack_free;  /* never used between heap and stack, by painting; 0 on a port without, bytes */
    uint32_t uptime_ms;  /* since the start, ms */
};

uint8_t msg_state_pack(uint8_t *to, const struct msg_state *from);
void msg_state_unpack(struct msg_state *to, const uint8_t *from);

#define MSG_CLEAR_FAULTS_FIXED 0
#define MSG_SERIAL_SET_FIXED 4
struct msg_serial_set {
    uint32_t serial;  /* new serial number, not FFFFFFFF */
};

uint8_t msg_serial_set_pack(uint8_t *to, const struct msg_serial_set *from);
void msg_serial_set_unpack(struct msg_serial_set *to, const uint8_t *from);

#define MSG_PASS_BEGIN_FIXED 2
struct msg_pass_begin {
    uint16_t pass_id;  /* the host counts them up within a session */
};

uint8_t msg_pass_begin_pack(uint8_t *to, const struct msg_pass_begin *from);
void msg_pass_begin_unpack(struct msg_pass_begin *to, const uint8_t *from);

#define MSG_STEPS_FIXED 0
#define MSG_READINGS_FIXED 6
struct msg_readings {
    uint16_t pass_id;  /* of which pass */
    uint32_t first;  /* index of the first of these readings within the pass */
};

uint8_t msg_readings_pack(uint8_t *to, const struct msg_readings *from);
void msg_readings_unpack(struct msg_readings *to, const uint8_t *from);

#define MSG_EVENT_FIXED 10
struct msg_event {
    uint16_t pass_id;  /* of which pass; 0 outside a pass */
    uint8_t kind;  /* what */
    uint8_t position;  /* where; 0 if it belongs to no position */
    uint16_t value;  /* a code or number that belongs to the kind */
    uint32_t reading;  /* index of the reading it belongs to, or of the next one */
};

uint8_t msg_event_pack(uint8_t *to, const struct msg_event *from);
void msg_event_unpack(struct msg_event *to, const uint8_t *from);

#define MSG_PASS_DONE_FIXED 19
struct msg_pass_done {
    uint16_t pass_id;  /* of which pass */
    uint8_t status;  /* how it ended */
    uint32_t steps;  /* steps carried out */
    uint32_t readings;  /* readings sent */
    uint32_t conversions;  /* converter cycles that went into readings */
    uint32_t elapsed_us;  /* from the first step to the end, by the device's clock, us */
};

uint8_t msg_pass_done_pack(uint8_t *to, const struct msg_pass_done *from);
void msg_pass_done_unpack(struct msg_pass_done *to, const uint8_t *from);

/* What a message id is; 0 if unknown. */
#define MSG_NUMBERED 0x01U
#define MSG_FROM_HOST 0x02U
#define MSG_FROM_DEVICE 0x04U
uint8_t msg_flags(uint8_t id);
/* True if a payload of that length can be that message. */
bool msg_length_ok(uint8_t id, uint8_t length);

/* Step arguments. `from` points behind the code byte; false if an argument is out of its range. */
struct step_drive {
    uint32_t m_on;  /* positions whose M line drives */
    uint32_t m_high;  /* of these, high */
    uint32_t s_on;  /* positions whose S line drives */
    uint32_t s_high;  /* of these, high */
};

bool step_drive_unpack(struct step_drive *to, const uint8_t *from);

struct step_levels {
    uint32_t high;  /* positions to be high */
};

bool step_levels_unpack(struct step_levels *to, const uint8_t *from);

struct step_pin {
    uint8_t position;  /* which */
    uint8_t lines;  /* bit 0: M drives, bit 1: S drives; 0: both off */
    uint8_t high;  /* level */
};

bool step_pin_unpack(struct step_pin *to, const uint8_t *from);

struct step_sense {
    uint8_t position;  /* 0: none */
    uint8_t load;  /* channel of the load selector */
    uint8_t ld;  /* level of the LD line */
};

bool step_sense_unpack(struct step_sense *to, const uint8_t *from);

struct step_reference {
    uint8_t reference;  /* which */
};

bool step_reference_unpack(struct step_reference *to, const uint8_t *from);

struct step_settle {
    uint16_t us;  /* how long, us */
};

bool step_settle_unpack(struct step_settle *to, const uint8_t *from);

struct step_read {
    uint8_t source;  /* converter channel */
    uint8_t repeats;  /* conversions */
};

bool step_read_unpack(struct step_read *to, const uint8_t *from);

struct step_scan {
    uint32_t mask;  /* positions */
    uint8_t repeats;  /* conversions each */
};

bool step_scan_unpack(struct step_scan *to, const uint8_t *from);

struct step_load {
    uint8_t position;  /* which */
    uint8_t lines;  /* bit 0: M, bit 1: S */
    uint8_t load;  /* channel of the load selector while `position` is read */
    uint8_t high;  /* 1: load to 5 V (the output sinks); 0: to 0 V (it sources) */
    uint8_t also;  /* a second position to read under the same lines (load selector open), or 0 */
    uint8_t repeats;  /* conversions each */
    uint16_t settle_us;  /* before the first conversion, us */
};

bool step_load_unpack(struct step_load *to, const uint8_t *from);

struct step_power_on {
    uint8_t supply;  /* a supply position */
    uint8_t supply_2;  /* a second one, or 0 */
    uint8_t ground;  /* a ground position; 0: none, to take the zero of ICC with a chip in the socket */
    uint16_t limit;  /* ICC code (of that reference) above which power goes off again, lsb */
};

bool step_power_on_unpack(struct step_power_on *to, const uint8_t *from);

struct step_level {
    uint16_t code;  /* duty */
};

bool step_level_unpack(struct step_level *to, const uint8_t *from);

struct step_verify {
    uint8_t position;  /* which */
};

bool step_verify_unpack(struct step_verify *to, const uint8_t *from);

struct step_pulse {
    uint8_t position;  /* which */
    uint16_t count;  /* pulses */
};

bool step_pulse_unpack(struct step_pulse *to, const uint8_t *from);

struct step_ground {
    uint8_t position;  /* a ground position, or 0 */
};

bool step_ground_unpack(struct step_ground *to, const uint8_t *from);

struct step_load_scan {
    uint32_t mask;  /* positions */
    uint32_t high;  /* of these, those loaded to 5 V (the output sinks); the others to 0 V */
    uint8_t lines;  /* bit 0: M, bit 1: S */
    uint8_t load;  /* channel of the load selector while a position is read */
    uint8_t repeats;  /* conversions each */
    uint16_t settle_us;  /* before the first conversion of each, us */
};

bool step_load_scan_unpack(struct step_load_scan *to, const uint8_t *from);

struct step_ramp {
    uint8_t position;  /* the input that is driven */
    uint8_t watch;  /* the output that is looked at; may be `position` itself, whose answer is the controller's own threshold */
    uint16_t first;  /* level code to begin with */
    uint16_t last;  /* level code to end with; below `first` the ramp falls */
    uint16_t step_us;  /* time for each code; the level's filter lags by 3 ms, us */
    uint8_t repeats;  /* conversions of K, and of VDAC */
    uint16_t settle_us;  /* at `first`, before the ramp, and at `last`, us */
};

bool step_ramp_unpack(struct step_ramp *to, const uint8_t *from);

struct step_deadman {
    uint8_t high;  /* level that PUMP stands at */
};

bool step_deadman_unpack(struct step_deadman *to, const uint8_t *from);

struct step_registers {
    uint32_t pattern;  /* what is shifted */
};

bool step_registers_unpack(struct step_registers *to, const uint8_t *from);

struct step_one_shot {
    uint8_t trigger;  /* the input whose change to its other level triggers */
    uint8_t watch;  /* the output that is looked at */
    uint8_t again;  /* 0: one edge; else the second edge comes so many half microseconds after the first, 4 at least, looks */
};

bool step_one_shot_unpack(struct step_one_shot *to, const uint8_t *from);

/* Bytes of the arguments, by step code. */
extern const uint8_t step_length[STEP_COUNT];
/* Readings that the step at `step` (code and whole arguments) gives when it succeeds. */
uint8_t step_readings(const uint8_t *step);

#endif
