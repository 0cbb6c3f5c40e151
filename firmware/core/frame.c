/* SPDX-License-Identifier: MIT */
#include "core/frame.h"

uint16_t frame_crc(uint16_t crc, uint8_t byte)
{
    /* Polynomial 1021, eight bits at once without a table. */
    uint8_t x = (uint8_t)((crc >> 8) ^ byte);
    x = (uint8_t)(x ^ (x >> 4));
    return (uint16_t)((crc << 8) ^ ((uint16_t)x << 12) ^ ((uint16_t)x << 5) ^ x);
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

static void append(struct frame_reader *reader, uint8_t byte)
{
    if (reader->length >= FRAME_RAW_MAX) {
        reader->spoilt = true;
        return;
    }
    reader->raw[reader->length++] = byte;
    reader->crc = frame_crc(reader->crc, byte);
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

enum frame_news frame_take(struct frame_reader *reader, uint8_t byte)
{
    if (byte == FRAME_DELIMITER)
        return finish(reader);
    reader->started = true;
    if (reader->block_left) {
        reader->block_left--;
        append(reader, byte);
        return FRAME_NOTHING;
    }
    if (reader->zero_due)
        append(reader, 0);
    reader->zero_due = byte != 0xFF;
    reader->block_left = (uint8_t)(byte - 1);
    return FRAME_NOTHING;
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

/* The raw byte number `at`; the CRC counts as data of the frame but not of itself. */
static uint8_t raw_byte(struct frame_writer *writer, uint8_t at)
{
    uint8_t crc_at = (uint8_t)(FRAME_HEADER_SIZE + writer->payload_length);
    uint8_t byte;
    if (at == crc_at)
        return (uint8_t)(writer->crc >> 8);
    if (at > crc_at)
        return (uint8_t)writer->crc;
    byte = at < FRAME_HEADER_SIZE ? writer->header[at] : writer->payload[at - FRAME_HEADER_SIZE];
    writer->crc = frame_crc(writer->crc, byte);
    return byte;
}

bool frame_build(struct frame_writer *writer, uint8_t budget)
{
    uint8_t whole = (uint8_t)(FRAME_HEADER_SIZE + writer->payload_length + FRAME_CRC_SIZE);
    if (writer->built > whole)
        return true;
    for (; budget && writer->built < whole; budget--) {
        uint8_t byte = raw_byte(writer, writer->built++);
        if (byte == 0) {
            writer->wire[writer->code_at] = (uint8_t)(writer->filled - writer->code_at);
            writer->code_at = writer->filled;
        } else {
            writer->wire[writer->filled] = byte;
        }
        writer->filled++;
    }
    if (writer->built < whole)
        return false;
    /* FRAME_RAW_MAX < 254: one block never has to be split. */
    writer->wire[writer->code_at] = (uint8_t)(writer->filled - writer->code_at);
    writer->wire[writer->filled++] = FRAME_DELIMITER;
    writer->built = (uint8_t)(whole + 1);
    return true;
}

uint8_t frame_fetch(struct frame_writer *writer)
{
    uint8_t byte = writer->wire[writer->fetched++];
    if (writer->fetched == writer->filled)
        writer->busy = false;
    return byte;
}
