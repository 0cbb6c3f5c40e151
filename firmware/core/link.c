/* SPDX-License-Identifier: MIT */
#include "core/link.h"

#include "core/frame.h"
#include "hal/clock.h"
#include "hal/uart.h"

#define QUEUE (FRAME_WINDOW + 1)      /* one more: the frame being received */
#define SLOT(seq) ((uint8_t)((seq) & (LINK_SLOTS - 1)))
#define REASONS 4                     /* acks that wait to be sent */
#define TURN_BYTES_IN_LEAST 4         /* a turn: some 6 us each, and the converter waits; */
#define TURN_BYTES_IN_MOST 16         /* more, the longer the ring is not empty */
#define TURN_BYTES_OUT 16
#define TURN_BYTES_BUILT 3
#define ACK_SOON_US 2000UL            /* well within TIMING_ACK_DELAY_MS */

_Static_assert((LINK_SLOTS & (LINK_SLOTS - 1)) == 0, "slots are found by masking");
_Static_assert(LINK_SLOTS > FRAME_WINDOW, "a slot is composed while a window is under way");
_Static_assert(ACK_SOON_US < TIMING_ACK_DELAY_MS * 1000UL, "acknowledged within the delay");

struct slot {
    uint8_t id;
    uint8_t length;
    uint8_t payload[FRAME_PAYLOAD_MAX];
};

static struct {
    const struct link_hooks *hooks;
    bool open;
    uint16_t damaged;

    /* receiving */
    struct frame_reader reader;
    uint8_t turn_bytes_in;
    uint8_t queue[QUEUE][FRAME_RAW_MAX];
    uint8_t queue_length[QUEUE];
    uint8_t queue_first, queue_count;
    uint8_t expected;                 /* seq of the next numbered frame */
    bool gap_told;
    bool ack_due;
    uint32_t ack_due_since;
    uint8_t told_limit;               /* last ack + room sent */

    /* sending */
    struct frame_writer writer;
    struct slot slots[LINK_SLOTS];
    uint8_t base;                     /* oldest frame not acknowledged and not freed */
    uint8_t acked;                    /* as told by the peer; base follows when the writer is idle */
    uint8_t cursor;                   /* next to be sent */
    uint8_t high;                     /* one past the highest ever sent */
    uint8_t fill;                     /* next to be queued */
    uint8_t peer_room;                /* frames beyond `acked` that the peer has room for */
    uint32_t progress_at;
    uint8_t reasons[REASONS];
    uint8_t reason_count;
    bool welcome_due, state_due;
    uint8_t control[MSG_WELCOME_FIXED > MSG_STATE_FIXED ? MSG_WELCOME_FIXED : MSG_STATE_FIXED];
} link;

static uint8_t queue_head(void)
{
    uint8_t head = (uint8_t)(link.queue_first + link.queue_count);
    return head >= QUEUE ? (uint8_t)(head - QUEUE) : head;
}

static uint8_t room(void)
{
    return (uint8_t)(FRAME_WINDOW - link.queue_count);
}

void link_open(bool open)
{
    link.open = open;
    link.queue_first = 0;
    link.queue_count = 0;
    link.expected = 0;
    link.gap_told = false;
    link.ack_due = false;
    link.told_limit = FRAME_WINDOW;
    frame_cut_off(&link.writer);
    link.base = link.acked = link.cursor = link.high = link.fill = 0;
    link.peer_room = 0;
    link.reason_count = 0;
    link.welcome_due = link.state_due = false;
    frame_reader_start(&link.reader, link.queue[0]);
}

void link_start(const struct link_hooks *hooks)
{
    link.hooks = hooks;
    link.damaged = 0;
    link.turn_bytes_in = TURN_BYTES_IN_LEAST;
    link_open(false);
}

bool link_is_open(void)
{
    return link.open;
}

uint16_t link_damaged(void)
{
    return link.damaged;
}

/* ---------------------------------------------------------------- receiving */

static void answer(uint8_t reason)
{
    if (link.reason_count < REASONS)
        link.reasons[link.reason_count++] = reason;
}

static void drop_damaged(void)
{
    if (link.damaged != UINT16_MAX)
        link.damaged++;
    if (!link.open)
        return;
    answer(ACK_DAMAGED);
    link.gap_told = true;
}

static void take_numbered(void)
{
    uint8_t seq = link.reader.raw[FRAME_SEQ];
    if (seq != link.expected && (uint8_t)(seq - link.expected) >= 128) {
        answer(ACK_REPEATED);
        return;
    }
    if (seq != link.expected || room() == 0) {
        if (!link.gap_told)
            answer(ACK_GAP);
        link.gap_told = true;
        return;
    }
    link.gap_told = false;
    link.expected++;
    link.queue_length[queue_head()] = (uint8_t)(link.reader.length - FRAME_RAW_MIN);
    link.queue_count++;
    if (!link.ack_due) {
        link.ack_due = true;
        link.ack_due_since = hal_ticks();
    } else if (link.reason_count == 0) {
        answer(ACK_KEEP_ALIVE);       /* two wait: half the window */
    }
}

static void resend(void)
{
    link.cursor = link.acked;
    link.progress_at = hal_ticks();
}

/* The header's ack and room, if they can be true. */
static void take_ack(uint8_t ack, uint8_t peer_room)
{
    uint8_t under_way = (uint8_t)(link.high - link.acked);
    uint8_t step = (uint8_t)(ack - link.acked);
    if (step > under_way)
        return;
    if (step) {
        link.acked = ack;
        link.progress_at = hal_ticks();
        if ((uint8_t)(link.cursor - ack) >= 128)
            link.cursor = ack;
    }
    link.peer_room = peer_room;
}

static void take_unnumbered(uint8_t id, const uint8_t *payload)
{
    switch (id) {
    case MSG_ACK:
        if (payload[0] == ACK_GAP || payload[0] == ACK_DAMAGED)
            resend();
        else if (payload[0] == ACK_KEEP_ALIVE)
            answer(ACK_KEEP_ALIVE);
        break;
    case MSG_HALT:
        link.hooks->halt();
        break;
    default:
        link.state_due = true;
        break;
    }
}

static void take_frame(void)
{
    const uint8_t *raw = link.reader.raw;
    uint8_t id = raw[FRAME_ID];
    uint8_t flags = msg_flags(id);
    if (!(flags & MSG_FROM_HOST) || !msg_length_ok(id, (uint8_t)(link.reader.length - FRAME_RAW_MIN))) {
        drop_damaged();
        return;
    }
    if (id == MSG_HELLO) {
        link.hooks->hello(wire_get_u16(raw + FRAME_HEADER_SIZE + 1));
        take_ack(raw[FRAME_ACK], raw[FRAME_ROOM]);
        return;
    }
    if (!link.open)
        return;
    link.hooks->frame_came();
    take_ack(raw[FRAME_ACK], raw[FRAME_ROOM]);
    if (flags & MSG_NUMBERED)
        take_numbered();
    else
        take_unnumbered(id, raw + FRAME_HEADER_SIZE);
}

void link_receive(void)
{
    uint8_t bytes[TURN_BYTES_IN_MOST], used;
    uint8_t count = hal_uart_get(bytes, link.turn_bytes_in);
    if (count < link.turn_bytes_in)
        link.turn_bytes_in = TURN_BYTES_IN_LEAST;
    else if (count < TURN_BYTES_IN_MOST)
        link.turn_bytes_in++;
    if (count == 0)
        return;
    if (hal_uart_error())
        link.reader.spoilt = link.reader.started = true;
    for (const uint8_t *at = bytes; count; at += used, count = (uint8_t)(count - used)) {
        enum frame_news news = frame_take(&link.reader, at, count, &used);
        if (news == FRAME_NOTHING)
            continue;
        if (news == FRAME_WHOLE)
            take_frame();
        else
            drop_damaged();
        frame_reader_start(&link.reader, link.queue[queue_head()]);
    }
}

bool link_peek(struct link_message *message)
{
    if (link.queue_count == 0)
        return false;
    const uint8_t *raw = link.queue[link.queue_first];
    message->id = raw[FRAME_ID];
    message->length = link.queue_length[link.queue_first];
    message->payload = raw + FRAME_HEADER_SIZE;
    return true;
}

void link_drop(void)
{
    if (link.queue_count == 0)
        return;
    link.queue_count--;
    if (++link.queue_first == QUEUE)
        link.queue_first = 0;
    /* A host that was told of little room waits for this. */
    uint8_t gain = (uint8_t)((uint8_t)(link.expected + room()) - link.told_limit);
    if (gain >= FRAME_WINDOW / 2 && (uint8_t)(link.told_limit - link.expected) <= 1 && link.reason_count == 0)
        answer(ACK_ROOM);
}

/* ------------------------------------------------------------------ sending */

uint8_t link_space(void)
{
    return (uint8_t)(LINK_SLOTS - (uint8_t)(link.fill - link.base));
}

uint8_t *link_compose(void)
{
    return link.slots[SLOT(link.fill)].payload;
}

void link_send(uint8_t id, uint8_t length)
{
    struct slot *slot = &link.slots[SLOT(link.fill)];
    slot->id = id;
    slot->length = length;
    link.fill++;
}

void link_send_welcome(void)
{
    link.welcome_due = true;
}

void link_send_state(void)
{
    link.state_due = true;
}

static void begin(uint8_t seq, uint8_t id, const uint8_t *payload, uint8_t length)
{
    uint8_t header[FRAME_HEADER_SIZE];
    header[FRAME_SEQ] = seq;
    header[FRAME_ACK] = link.expected;
    header[FRAME_ROOM] = room();
    header[FRAME_ID] = id;
    link.ack_due = false;
    link.told_limit = (uint8_t)(link.expected + room());
    frame_begin(&link.writer, header, payload, length);
}

static void begin_unnumbered(uint8_t id, uint8_t length)
{
    begin(link.high, id, link.control, length);
}

static bool next_control(void)
{
    if (link.welcome_due) {
        link.welcome_due = false;
        begin_unnumbered(MSG_WELCOME, session_pack_welcome(link.control));
        return true;
    }
    if (link.reason_count) {
        link.control[0] = link.reasons[0];
        link.reason_count--;
        for (uint8_t i = 0; i < link.reason_count; i++)
            link.reasons[i] = link.reasons[i + 1];
        begin_unnumbered(MSG_ACK, MSG_ACK_FIXED);
        return true;
    }
    if (link.state_due) {
        link.state_due = false;
        begin_unnumbered(MSG_STATE, session_pack_state(link.control));
        return true;
    }
    return false;
}

static void next_numbered(void)
{
    uint8_t under_way = (uint8_t)(link.cursor - link.acked);
    if (link.cursor == link.fill || under_way >= FRAME_WINDOW || under_way >= link.peer_room)
        return;
    const struct slot *slot = &link.slots[SLOT(link.cursor)];
    if (link.high == link.base)
        link.progress_at = hal_ticks();
    begin(link.cursor, slot->id, slot->payload, slot->length);
    link.cursor++;
    if ((int8_t)(link.cursor - link.high) > 0)
        link.high = link.cursor;
}

void link_send_some(void)
{
    if (!link.writer.busy) {
        link.base = link.acked;       /* slots are freed only while none is being read */
        if (!next_control())
            next_numbered();
        return;
    }
    if (!frame_build(&link.writer, TURN_BYTES_BUILT))
        return;
    uint8_t count;
    const uint8_t *rest = frame_rest(&link.writer, &count);
    frame_sent(&link.writer, hal_uart_put(rest, count < TURN_BYTES_OUT ? count : TURN_BYTES_OUT));
}

void link_slow_turn(uint32_t now)
{
    if (link.ack_due && link.reason_count == 0 && hal_passed(now, link.ack_due_since, HAL_TICKS(ACK_SOON_US)))
        answer(ACK_KEEP_ALIVE);
    if (link.high != link.base && hal_passed(now, link.progress_at, HAL_TICKS(TIMING_RETRANSMIT_MS * 1000UL)))
        resend();
}

bool link_quiet(void)
{
    return !link.writer.busy && !link.reason_count && !link.welcome_due && !link.state_due && !link.ack_due &&
           link.cursor == link.fill;
}
