/* SPDX-License-Identifier: MIT */
#include "core/session.h"

#include "core/convert.h"
#include "core/executor.h"
#include "core/lines.h"
#include "core/link.h"
#include "core/power.h"
#include "core/steps.h"
#include "gen/wiring.h"
#include "hal/clock.h"
#include "hal/device.h"
#include "hal/ports.h"

#define BIT(number) ((uint8_t)(1U << (number)))
#define SLOW_US 400           /* also the pace of the pump: at 1.25 kHz its capacitor keeps some 2 V */
#define SERIAL_BYTES 4
#define NO_SERIAL 0xFFFFFFFFUL

static struct {
    uint16_t nonce;
    bool any_pass;                /* of this session */
    uint16_t last_pass;
    uint32_t frame_at;            /* last good frame */
    uint32_t slow_at;
    uint32_t uptime_ms, uptime_at;
    uint32_t serial;              /* being stored */
    uint8_t serial_left;          /* bytes of it */
    bool quiet;                   /* as of the last slow turn */
} session;

/* ----------------------------------------------------- asked for by the link */

static SELDOM void on_hello(uint16_t nonce)
{
    executor_start();
    convert_stop();
    power_off();
    power_forgive(FAULT_SILENCE);
    link_open(true);
    session.nonce = nonce;
    session.any_pass = false;
    session.serial_left = 0;
    session.frame_at = hal_ticks();
    link_send_welcome();
}

static SELDOM void on_halt(void)
{
    struct link_message message;
    executor_abort(PASS_HALTED, 0);
    /* What came before it and still waits must not start anything after it. */
    while (link_peek(&message))
        link_drop();
    link_send_state();
}

static void on_frame(void)
{
    session.frame_at = hal_ticks();
}

static const struct link_hooks hooks = {on_hello, on_halt, on_frame};

/* A reduced build ties the strap to ground; otherwise the pull-up holds it high. */
static SELDOM uint32_t wiring_id(void)
{
    return (hal_port_get(WIRING_STRAP_PORT) & BIT(WIRING_STRAP_BIT)) ? WIRING_ID : WIRING_ID_STRAPPED;
}

SELDOM uint8_t session_pack_welcome(uint8_t *to)
{
    struct msg_welcome welcome = {
        .magic = {'S', 'A', 'G', 'B'},
        .api_level = PROTOCOL_API_LEVEL,
        .nonce = session.nonce,
        .wiring_id = wiring_id(),
        .serial = hal_serial_get(),
        .version = FIRMWARE_VERSION,
        .reset_cause = hal_reset_cause(),
        .positions = WIRING_POSITIONS,
    };
    return msg_welcome_pack(to, &welcome);
}

SELDOM uint8_t session_pack_state(uint8_t *to)
{
    struct msg_state state = {
        .faults = power_faults(),
        .powered = power_is_on(),
        .pass_running = executor_running(),
        .registers_enabled = power_registers_enabled(),
        .button = !(hal_port_get(WIRING_BUTTON_PORT) & BIT(WIRING_BUTTON_BIT)),
        .verified = lines_verified(),
        .frames_damaged = link_damaged(),
        .stack_free = hal_stack_free(),
        .uptime_ms = session.uptime_ms,
    };
    return msg_state_pack(to, &state);
}

/* ------------------------------------------------------------ turn by turn */

static const struct msg_event silence = {.kind = EVENT_SILENCE};

static SELDOM void pass_begin(const uint8_t *payload)
{
    uint16_t id = wire_get_u16(payload);
    if (executor_running()) {
        executor_event(executor_pass_id(), EVENT_BUSY, 0, id);
    } else if (session.any_pass && id == session.last_pass) {
        executor_event(0, EVENT_PASS_REPEATED, 0, id);
    } else {
        session.any_pass = true;
        session.last_pass = id;
        executor_begin(id);
        /* The host may not know yet that the chip has lost its power. */
        if (power_faults() & FAULT_SILENCE)
            executor_abort(PASS_FAULT, &silence);
    }
}

static SELDOM void serial_turn(void)
{
    uint8_t index = (uint8_t)(SERIAL_BYTES - session.serial_left);
    if (!hal_serial_put(index, (uint8_t)(session.serial >> (8 * index))))
        return;
    if (--session.serial_left == 0)
        link_send_state();
}

/* The message at the front of the queue, but for `steps` of a running pass, which the executor takes. */
static void message_turn(void)
{
    struct link_message message;
    if (session.serial_left) {
        serial_turn();
        return;
    }
    if (!link_peek(&message) || (message.id == MSG_STEPS && executor_running()))
        return;
    if (link_space() < 2)         /* flushed readings and an event */
        return;
    switch (message.id) {
    case MSG_PASS_BEGIN:
        pass_begin(message.payload);
        break;
    case MSG_CLEAR_FAULTS:
        power_clear_faults();
        link_send_state();
        break;
    case MSG_SERIAL_SET:
        session.serial = wire_get_u32(message.payload);
        if (session.serial == NO_SERIAL)
            link_send_state();
        else
            session.serial_left = SERIAL_BYTES;
        break;
    default:
        break;                    /* steps of a pass that is over */
    }
    link_drop();
}

static void lease_turn(uint32_t now)
{
    if (!link_is_open() || !hal_passed(now, session.frame_at, HAL_TICKS(WIRING_LEASE_MS * 1000UL)))
        return;
    executor_start();
    convert_stop();
    power_off();
    link_open(false);
}

/* True if the host has fallen silent while the chip is powered: everything is off then. */
static bool silence_turn(uint32_t now, struct msg_event *event)
{
    if (!power_is_on() || !hal_passed(now, session.frame_at, HAL_TICKS(TIMING_SILENCE_MS * 1000UL)))
        return false;
    power_fault(FAULT_SILENCE);
    power_off();
    *event = silence;
    return true;
}

static void safety_turn(uint32_t now)
{
    struct msg_event event;
    if (!power_turn(now, &event, executor_glance) && !silence_turn(now, &event))
        return;
    if (executor_running())
        executor_abort(PASS_FAULT, &event);
    else if (link_is_open() && link_space())
        executor_event(0, event.kind, event.position, event.value);
}

static void clock_turn(uint32_t now)
{
    if (hal_passed(now, session.uptime_at, HAL_TICKS(1000))) {
        session.uptime_at += HAL_TICKS(1000);
        session.uptime_ms++;
    }
}

SELDOM void session_start(void)
{
    hal_port_ddr(WIRING_BUTTON_PORT, BIT(WIRING_BUTTON_BIT), 0);
    hal_port_out(WIRING_BUTTON_PORT, BIT(WIRING_BUTTON_BIT), BIT(WIRING_BUTTON_BIT));
    hal_port_ddr(WIRING_STRAP_PORT, BIT(WIRING_STRAP_BIT), 0);
    hal_port_out(WIRING_STRAP_PORT, BIT(WIRING_STRAP_BIT), BIT(WIRING_STRAP_BIT));
    session.uptime_ms = 0;
    session.uptime_at = session.slow_at = hal_ticks();
    session.serial_left = 0;
    session.quiet = false;
    link_start(&hooks);
    executor_start();
    power_start();
    hal_pwm(0);
    convert_start();
    supply_watch_start();
}

static bool nothing_to_do(void)
{
    struct link_message message;
    return executor_quiet() && link_quiet() && !link_peek(&message) && power_settled() && !session.serial_left;
}

/* What bears a delay of SLOW_US: the converter waits for none of it. */
static void slow_turn(uint32_t now)
{
    session.slow_at = now;
    hal_watchdog();
    clock_turn(now);
    safety_turn(now);
    executor_glance();
    executor_slow_turn(now);
    link_slow_turn(now);
    executor_glance();
    if (!executor_running())
        (void)convert_settled();  /* so that the first pass need not wait */
    message_turn();
    lease_turn(now);
    session.quiet = nothing_to_do();
}

void session_turn(void)
{
    /* The executor comes between all others: the converter waits for it. */
    uint32_t now = hal_ticks();
    if (!executor_urgent()) {
        link_receive();
        executor_turn(now);
        link_send_some();
        if (hal_passed(now, session.slow_at, HAL_TICKS(SLOW_US)))
            slow_turn(now);
    }
    executor_turn(now);
}

bool session_quiet(void)
{
    return session.quiet;
}
