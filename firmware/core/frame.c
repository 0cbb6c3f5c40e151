/* SPDX-License-Identifier: MIT */
#include "core/frame.h"

#include "core/seldom.h"

/* Polynomial 1021, eight bits at once without a table, in bytes: the high byte of
 * crc << 8 ^ x << 12 ^ x << 5 ^ x, and its low byte. */
static inline uint16_t crc_step(uint16_t crc, uint8_t byte)
{
    uint8_t x = (uint8_t)((uint8_t)(crc >> 8) ^ byte);
    x = (uint8_t)(x ^ (x >> 4));
    uint8_t high = (uint8_t)((uint8_t)crc ^ (uint8_t)(x << 4) ^ (x >> 3));
    uint8_t low = (uint8_t)((uint8_t)(x << 5) ^ x);
    return (uint16_t)((uint16_t)high << 8 | low);
}

uint16_t frame_crc(uint16_t crc, uint8_t byte)
{
    return crc_step(crc, byte);
}

void frame_reader_start(struct frame_reader *reader, uint8_t *raw)
{
    reader->raw = raw;
    reader->length = 0;
    reader->block_left = 0;
    reader->zero_due = false;
    reader->started = false;
    reader->spoilt = false;
    reader->crc = FRAME_CRC_INIT;
}

static enum frame_news finish(const struct frame_reader *reader)
{
    if (!reader->started)
        return FRAME_NOTHING;
    /* A frame with its own CRC behind it has CRC 0. */
    if (reader->spoilt || reader->block_left || reader->length < FRAME_RAW_MIN || reader->crc != 0)
        return FRAME_DAMAGED;
    return FRAME_WHOLE;
}

/* All that changes with a byte is kept in locals: this is where the controller's time goes. */
enum frame_news frame_take(struct frame_reader *reader, const uint8_t *bytes, uint8_t count, uint8_t *used)
{
    uint8_t length = reader->length, left = reader->block_left;
    uint16_t crc = reader->crc;
    bool ended = false;
    uint8_t i = 0;
    while (i < count && !ended) {
        uint8_t byte = bytes[i++];
        if (byte == FRAME_DELIMITER) {
            ended = true;
            continue;
        }
        if (left) {
            left--;
        } else {
            bool zero = reader->zero_due;
            reader->started = true;
            reader->zero_due = byte != 0xFF;
            left = (uint8_t)(byte - 1);
            if (!zero)
                continue;
            byte = 0;                 /* the zero that the block before stood for */
        }
        if (length == FRAME_RAW_MAX) {
            reader->spoilt = true;
            continue;
        }
        reader->raw[length++] = byte;
        crc = crc_step(crc, byte);
    }
    *used = i;
    reader->length = length;
    reader->block_left = left;
    reader->crc = crc;
    return ended ? finish(reader) : FRAME_NOTHING;
}

void frame_begin(struct frame_writer *writer, const uint8_t header[FRAME_HEADER_SIZE],
                 const uint8_t *payload, uint8_t length)
{
    for (uint8_t i = 0; i < FRAME_HEADER_SIZE; i++)
        writer->header[i] = header[i];
    writer->payload = payload;
    writer->payload_length = length;
    writer->built = 0;
    writer->filled = 1;
    writer->code_at = 0;
    writer->fetched = 0;
    writer->busy = true;
    writer->crc = FRAME_CRC_INIT;
}

SELDOM void frame_cut_off(struct frame_writer *writer)
{
    writer->wire[0] = FRAME_DELIMITER;
    writer->fetched = 0;
    writer->filled = 1;
    writer->payload_length = 0;
    writer->built = UINT8_MAX;
}

bool frame_build(struct frame_writer *writer, uint8_t budget)
{
    const uint8_t crc_at = (uint8_t)(FRAME_HEADER_SIZE + writer->payload_length);
    const uint8_t whole = (uint8_t)(crc_at + FRAME_CRC_SIZE);
    uint8_t built = writer->built, filled = writer->filled;
    uint16_t crc = writer->crc;
    if (built > whole)
        return true;
    for (; budget && built < whole; budget--, built++, filled++) {
        uint8_t byte;
        if (built < crc_at) {
            byte = built < FRAME_HEADER_SIZE ? writer->header[built] : writer->payload[built - FRAME_HEADER_SIZE];
            crc = crc_step(crc, byte);
        } else {
            byte = (uint8_t)(built == crc_at ? crc >> 8 : crc);
        }
        if (byte) {
            writer->wire[filled] = byte;
        } else {
            writer->wire[writer->code_at] = (uint8_t)(filled - writer->code_at);
            writer->code_at = filled;
        }
    }
    if (built == whole) {
        /* FRAME_RAW_MAX < 254: one block never has to be split. */
        writer->wire[writer->code_at] = (uint8_t)(filled - writer->code_at);
        writer->wire[filled++] = FRAME_DELIMITER;
        built++;
    }
    writer->built = built;
    writer->filled = filled;
    writer->crc = crc;
    return built > whole;
}
