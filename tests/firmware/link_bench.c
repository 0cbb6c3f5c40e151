/* SPDX-License-Identifier: MIT */
/* The link alone, without the device behind it: bytes in, what is delivered and sent out.
 * Driven by test_vectors.py through ctypes. */
#include <stdio.h>
#include <string.h>

#include "core/link.h"
#include "hal/clock.h"
#include "hal/uart.h"

static const uint8_t *rx;
static uint32_t rx_left, ticks;
static uint8_t sent[1 << 16];
static uint32_t sent_count;
static char log_text[1 << 17];
static size_t log_at;

uint8_t hal_uart_get(uint8_t *to, uint8_t most)
{
    uint8_t count = (uint8_t)(rx_left < most ? rx_left : most);
    memcpy(to, rx, count);
    rx += count;
    rx_left -= count;
    return count;
}

uint8_t hal_uart_put(const uint8_t *bytes, uint8_t count)
{
    memcpy(sent + sent_count, bytes, count);
    sent_count += count;
    return count;
}

bool hal_uart_error(void)
{
    return false;
}

uint32_t hal_ticks(void)
{
    return ticks;
}

static void say(const char *what)
{
    log_at += (size_t)snprintf(log_text + log_at, sizeof log_text - log_at, "%s\n", what);
}

static void on_hello(uint16_t nonce)
{
    (void)nonce;
    say("control hello");
    link_open(true);
}

static void on_halt(void)
{
    say("control halt");
}

static void on_frame(void)
{
}

uint8_t session_pack_welcome(uint8_t *to)
{
    (void)to;
    return 0;
}

uint8_t session_pack_state(uint8_t *to)
{
    say("control state_request");
    memset(to, 0, MSG_STATE_FIXED);
    return MSG_STATE_FIXED;
}

static const struct link_hooks hooks = {on_hello, on_halt, on_frame};

static void deliver(void)
{
    struct link_message message;
    while (link_peek(&message)) {
        char text[16 + 2 * FRAME_PAYLOAD_MAX];
        int at = snprintf(text, sizeof text, "deliver %02x ", message.id);
        for (uint8_t i = 0; i < message.length; i++)
            at += snprintf(text + at, sizeof text - (size_t)at, "%02x", message.payload[i]);
        say(text);
        link_drop();
    }
}

void bench_start(void)
{
    ticks = 0;
    link_start(&hooks);
}

/* Forget what was said and sent. */
void bench_forget(void)
{
    log_at = 0;
    log_text[0] = 0;
    sent_count = 0;
}

/* Bytes come in; messages are taken as they come, or (`hold`) at the end. */
void bench_rx(const uint8_t *bytes, uint32_t count, bool hold)
{
    rx = bytes;
    rx_left = count;
    for (uint32_t idle = 0; idle < 400; idle = rx_left ? 0 : idle + 1) {
        link_receive();
        if (!hold)
            deliver();
        link_send_some();
        link_slow_turn(ticks);
        ticks += HAL_TICKS(50);
    }
    deliver();
}

void bench_turns(uint32_t count)
{
    for (; count; count--) {
        link_receive();
        link_send_some();
        link_slow_turn(ticks);
        ticks += HAL_TICKS(50);
    }
}

const char *bench_log(void)
{
    return log_text;
}

const uint8_t *bench_sent(uint32_t *count)
{
    *count = sent_count;
    return sent;
}
