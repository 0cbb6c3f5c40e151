/* SPDX-License-Identifier: MIT */
/* The whole device under a fuzzer's hands: a host and a world that do what the input says.
 *
 * The input is a program; each operation is a byte and what belongs to it.  Operations
 * that make good frames, with the numbers the device awaits, lead a fuzzer past CRC and
 * sequence numbers into the steps.  What must hold is checked after every turn; the
 * sanitizers watch the rest. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "core/frame.h"
#include "fuzz/snapshot.h"
#include "gen/wiring.h"
#include "port_pc/port_pc.h"

#define SIZE_MOST 4096
#define SENT_MOST (64 * SIZE_MOST)        /* bytes on the line to the device: the queue never moves while an input runs */
#define BOOT_NS UINT64_C(130000000)       /* the dead-man's self-test */
#define TIME_NS UINT64_C(400000000)       /* of one input, in the device's time */
#define AFTER_NS UINT64_C(60000000)       /* from a halt to rest */
#define REST_TURN_NS 1000000              /* a turn of the main loop while the device only waits */
#define ANSWER_NS UINT64_C(300000000)     /* to a halt, behind all that is in the line already */
#ifndef GAP_NS
#define GAP_NS UINT64_C(3000000)          /* between two feedings of the watchdog */
#endif
#define LETS_GO_NS UINT64_C(37000000)     /* of the dead-man */

enum operation { RAW, FRAME, STEPS, RUN, WORLD, SAMPLES, BREAK_BYTE, MUTE_PACE, OPERATIONS };

/* A turn of the main loop: about as on the controller (the second), or slower, which is faster to simulate. */
static const uint32_t paces_ns[4] = {40000, 8000, 120000, 300000};

static struct {
    uint8_t ddr[11], out[11];
    uint8_t shifted[3], latched[3];
    uint8_t pins[11];                     /* what the world drives inputs to */
    uint8_t wobble, reads, flipped;       /* each so many looks at a port (0: never) all inputs go to their other level */
    bool oe_stuck, oe_level, tripped, chain_broken;
    uint64_t pumped;
    const uint8_t *samples;               /* taken round and round */
    uint32_t samples_count, samples_at;
} world;

static struct {
    struct frame_reader reader;
    uint8_t raw[FRAME_RAW_MAX];
    uint8_t device_expects, expects;      /* next numbers of the two streams */
    bool mute, ack_due;
    bool cut_off;                         /* the last frame was not whole */
    bool state;                           /* has come */
} host;

static void must(bool holds, const char *what)
{
    if (holds)
        return;
    (void)fprintf(stderr, "broken: %s\n", what);
    abort();
}

/* ------------------------------------------------------------------ the world */

static bool bit(const uint8_t *of, uint8_t port, uint8_t number)
{
    return of[port] >> number & 1;
}

static bool enabled(void)
{
    if (world.oe_stuck)
        return !world.oe_level;
    return !world.tripped && port_pc_now_ns() - world.pumped < LETS_GO_NS;
}

static bool supply_on(void)
{
    for (uint8_t i = 0; i < WIRING_SUPPLIES; i++)
        if (!(world.latched[wiring_supply[i].reg] & wiring_supply[i].mask))
            return true;
    return false;
}

static void on_write(void *context, uint8_t port, uint8_t ddr, uint8_t out)
{
    (void)context;
    bool before = bit(world.out, WIRING_PUMP_PORT, WIRING_PUMP_BIT);
    world.ddr[port] = ddr;
    world.out[port] = out;
    if (bit(world.out, WIRING_PUMP_PORT, WIRING_PUMP_BIT) != before)
        world.pumped = port_pc_now_ns();
    uint8_t muxes = 0;
    for (uint8_t i = 0; i < WIRING_MUXES; i++) {
        const struct wiring_line *line = &wiring_inhibit[i];
        muxes = (uint8_t)(muxes + ((world.ddr[line->port] & line->mask) && !(world.out[line->port] & line->mask)));
    }
    must(muxes <= 1, "two multiplexers tied to K");
}

static uint8_t on_read(void *context, uint8_t port, uint8_t ddr, uint8_t out)
{
    (void)context;
    if (world.wobble && ++world.reads >= world.wobble) {
        world.reads = 0;
        world.flipped ^= 0xFF;
    }
    uint8_t pins = (uint8_t)((out & ddr) | ((world.pins[port] ^ world.flipped) & ~ddr));
    if (port == WIRING_OE_N_PORT) {
        uint8_t mask = (uint8_t)(1U << WIRING_OE_N_BIT);
        pins = (uint8_t)((pins & ~mask) | (enabled() ? 0 : mask));
    }
    return pins;
}

static void on_shift(void *context, const uint8_t bytes[3], uint8_t back[3])
{
    (void)context;
    memcpy(back, world.shifted, 3);
    if (world.chain_broken)
        back[1] ^= 0x10;
    memcpy(world.shifted, bytes, 3);
}

/* The far register's byte is shifted first. */
static void on_latch(void *context)
{
    (void)context;
    for (uint8_t i = 0; i < 3; i++)
        world.latched[i] = world.shifted[2 - i];
}

static uint16_t on_sample(void *context, uint8_t channel, uint8_t refs)
{
    (void)context;
    (void)channel;
    must(refs >= 1 && refs <= 3, "a reference that does not exist");
    if (!world.samples_count)
        return channel == WIRING_ADC_K ? 1000 : 200;
    uint8_t byte = world.samples[world.samples_at++ % world.samples_count];
    return (uint16_t)(byte * 4 + byte % 4);
}

static void on_pwm(void *context, uint16_t duty)
{
    (void)context;
    must(duty < 1024, "a duty above its most");
}

/* ------------------------------------------------------------------- the host */

static void take_frame(void)
{
    const uint8_t *raw = host.raw;
    uint8_t id = raw[FRAME_ID];
    must(!host.cut_off || id == MSG_WELCOME, "the device sent a damaged frame, or one of a wrong length");
    must(msg_flags(id) & MSG_FROM_DEVICE, "a message that is not the device's");
    host.device_expects = raw[FRAME_ACK];
    if (id == MSG_WELCOME)
        host.expects = 0;
    if (id == MSG_STATE)
        host.state = true;
    if (msg_flags(id) & MSG_NUMBERED && raw[FRAME_SEQ] == host.expects) {
        host.expects++;
        host.ack_due = true;
    }
}

static void on_tx(void *context, uint8_t byte)
{
    (void)context;
    uint8_t used;
    enum frame_news news = frame_take(&host.reader, &byte, 1, &used);
    if (news == FRAME_NOTHING)
        return;
    /* A hello cuts off what is under way; its answer then comes next, whole.  Short of its last byte a frame has a good
     * check sum once in 256 times; then its length is wrong. */
    bool whole = news == FRAME_WHOLE && msg_length_ok(host.raw[FRAME_ID], (uint8_t)(host.reader.length - FRAME_RAW_MIN));
    if (whole)
        take_frame();
    host.cut_off = !whole;
    frame_reader_start(&host.reader, host.raw);
}

static void send_frame(uint8_t seq, uint8_t id, const uint8_t *payload, uint8_t length)
{
    struct frame_writer writer;
    uint8_t count;
    const uint8_t header[FRAME_HEADER_SIZE] = {seq, host.expects, 4, id};
    frame_begin(&writer, header, payload, length);
    while (!frame_build(&writer, 255))
        ;
    const uint8_t *bytes = frame_rest(&writer, &count);
    port_pc_rx(bytes, count);
}

/* ------------------------------------------------------------------ its hands */

static const struct port_pc_world callbacks = {
    .port_write = on_write, .pin_read = on_read, .shift = on_shift, .latch = on_latch,
    .sample = on_sample, .pwm = on_pwm, .tx = on_tx,
};

static void turn(void)
{
    port_pc_poll();
    must(port_pc_watchdog_gap_ns() < GAP_NS, "the main loop stood still");
    if (host.ack_due && !host.mute) {
        uint8_t reason = ACK_ROOM;
        host.ack_due = false;
        send_frame(host.device_expects, MSG_ACK, &reason, 1);
    }
}

static void run(uint64_t ns)
{
    uint64_t end = port_pc_now_ns() + ns;
    while (port_pc_now_ns() < end)
        turn();
}

static void boot(void)
{
    static const uint8_t reserve[SENT_MOST];
    const uint8_t hello[MSG_HELLO_FIXED] = {PROTOCOL_API_LEVEL, 1, 2};
    memset(&world, 0, sizeof world);
    memset(&host, 0, sizeof host);
    frame_reader_start(&host.reader, host.raw);
    /* No edge for long: the capacitor is empty. */
    world.pumped = port_pc_now_ns() - LETS_GO_NS;
    port_pc_rx(reserve, sizeof reserve);
    port_pc_reset(&callbacks, 1);
    port_pc_pace(REST_TURN_NS);
    run(BOOT_NS);
    port_pc_pace(paces_ns[0]);
    send_frame(0, MSG_HELLO, hello, sizeof hello);
    run(UINT64_C(3000000));
}

/* Whatever was before: a halt, and all is off. */
static void halt(void)
{
    const uint8_t delimiter = FRAME_DELIMITER;
    port_pc_rx(&delimiter, 1);
    run(UINT64_C(1000000));               /* a spoilt byte, if one is due, is behind */
    send_frame(0, MSG_HALT, 0, 0);
    host.state = false;
    for (uint64_t end = port_pc_now_ns() + ANSWER_NS; !host.state; turn())
        must(port_pc_now_ns() < end, "no answer to a halt");
    port_pc_pace(REST_TURN_NS);
    run(AFTER_NS);
    must(!supply_on(), "powered after a halt");
    for (uint8_t port = 0; port < WIRING_PORTS; port++)
        must(!(world.ddr[port] & (wiring_medium_mask[port] | wiring_strong_mask[port])), "a line drives after a halt");
}

struct input {
    const uint8_t *at;
    size_t left;
};

static uint8_t next(struct input *input)
{
    if (!input->left)
        return 0;
    input->left--;
    return *input->at++;
}

static const uint8_t *some(struct input *input, size_t *count)
{
    const uint8_t *at = input->at;
    if (*count > input->left)
        *count = input->left;
    input->at += *count;
    input->left -= *count;
    return at;
}

static void change_world(uint8_t what, uint8_t value)
{
    world.oe_stuck = what & 1;
    world.oe_level = what & 2;
    world.tripped = what & 4;
    world.chain_broken = what & 8;
    if (what >> 4 < WIRING_PORTS)
        world.pins[what >> 4] = value;
    else
        world.wobble = value;
}

static void operate(struct input *input)
{
    uint8_t operation = next(input), argument = next(input);
    size_t count = argument;
    const uint8_t *bytes;
    switch (operation % OPERATIONS) {
    case RAW:
        bytes = some(input, &count);
        port_pc_rx(bytes, (uint32_t)count);
        break;
    case FRAME:
        count = next(input) % (FRAME_PAYLOAD_MAX + 1);
        bytes = some(input, &count);
        send_frame(host.device_expects, argument, bytes, (uint8_t)count);
        break;
    case STEPS:
        count = argument % (FRAME_PAYLOAD_MAX + 1);
        bytes = some(input, &count);
        send_frame(host.device_expects, MSG_STEPS, bytes, (uint8_t)count);
        run(UINT64_C(2200000));           /* until it has arrived */
        break;
    case RUN:
        run(UINT64_C(100000) * argument);
        break;
    case WORLD:
        change_world(argument, next(input));
        break;
    case SAMPLES:
        world.samples = some(input, &count);
        world.samples_count = (uint32_t)count;
        break;
    case BREAK_BYTE:
        port_pc_break_byte();
        break;
    default:
        host.mute = argument & 1;
        port_pc_pace(paces_ns[argument >> 1 & 3]);
        break;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct input input = {data, size < SIZE_MOST ? size : SIZE_MOST};
    if (!snapshot_put_back()) {
        boot();
        snapshot_take();
    }
    uint64_t end = port_pc_now_ns() + TIME_NS;
    while (input.left && port_pc_now_ns() < end) {
        operate(&input);
        turn();
    }
    run(UINT64_C(3000000));
    halt();
    return 0;
}
