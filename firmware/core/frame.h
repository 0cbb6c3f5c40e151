/* SPDX-License-Identifier: MIT */
/* Frames on the wire: COBS( seq ack room id payload crc ) 00.
 *
 * COBS: S. Cheshire, M. Baker, "Consistent Overhead Byte Stuffing", IEEE/ACM
 * Transactions on Networking 7(2), 1999.  The check is CRC-16/IBM-3740.
 * Both directions work byte by byte, so that no turn of the main loop gets long. */
#ifndef CORE_FRAME_H
#define CORE_FRAME_H
#include <stdbool.h>
#include <stdint.h>

#include "gen/protocol.h"

/* CRC-16/IBM-3740 after one more byte; starts from FRAME_CRC_INIT. */
uint16_t frame_crc(uint16_t crc, uint8_t byte);

enum frame_news { FRAME_NOTHING, FRAME_WHOLE, FRAME_DAMAGED };

/* Undoes one frame.  `raw` is the caller's, FRAME_RAW_MAX bytes; after
 * FRAME_WHOLE it holds header, payload and CRC, `length` bytes in all. */
struct frame_reader {
    uint8_t *raw;
    uint8_t length;
    uint8_t block_left;   /* bytes until the next COBS code */
    bool zero_due;        /* the block ends in a zero, if another follows */
    bool started;
    bool spoilt;
    uint16_t crc;
};

/* Start anew, into `raw`. */
void frame_reader_start(struct frame_reader *reader, uint8_t *raw);

/* Take bytes up to the end of a frame or of the bytes; *used is how many.
 * After FRAME_WHOLE or FRAME_DAMAGED call frame_reader_start. */
enum frame_news frame_take(struct frame_reader *reader, const uint8_t *bytes, uint8_t count, uint8_t *used);

/* Makes one frame.  First built byte by byte into `wire`, then fetched. */
struct frame_writer {
    uint8_t wire[FRAME_WIRE_MAX];
    uint8_t header[FRAME_HEADER_SIZE];
    const uint8_t *payload;
    uint8_t payload_length;
    uint8_t built;        /* raw bytes that are in `wire` */
    uint8_t filled;       /* bytes of `wire` */
    uint8_t code_at;      /* where the code of the open block goes */
    uint8_t fetched;
    bool busy;
    uint16_t crc;
};

/* Begin a frame; `payload` must stay as it is until `busy` is false. */
void frame_begin(struct frame_writer *writer, const uint8_t header[FRAME_HEADER_SIZE],
                 const uint8_t *payload, uint8_t length);

/* Build at most `budget` raw bytes; true once the frame can be fetched. */
bool frame_build(struct frame_writer *writer, uint8_t budget);

/* What is left of it for the wire; after frame_sent() of the last byte `busy` ends. */
static inline const uint8_t *frame_rest(const struct frame_writer *writer, uint8_t *count)
{
    *count = (uint8_t)(writer->filled - writer->fetched);
    return writer->wire + writer->fetched;
}

/* Give up what is left: only a delimiter is sent of it yet, so that the next frame stands alone. */
void frame_cut_off(struct frame_writer *writer);

static inline void frame_sent(struct frame_writer *writer, uint8_t count)
{
    writer->fetched = (uint8_t)(writer->fetched + count);
    if (writer->fetched == writer->filled)
        writer->busy = false;
}

#endif
