/* SPDX-License-Identifier: MIT */
/* The firmware on a PC, in virtual time.
 *
 * One instance a process.  The world around the controller is a set of callbacks;
 * time passes only inside the calls of the hardware layer (each costs about what
 * it costs on the controller) and is kept in nanoseconds.  Conversions, serial
 * bytes and the clock happen in that time: nothing here knows of real time.
 *
 *     port_pc_reset(&world, 1);
 *     port_pc_rx(frame, length);
 *     while (...) port_pc_poll();           one turn of the main loop, or one sleep
 */
#ifndef PORT_PC_H
#define PORT_PC_H
#include <stdbool.h>
#include <stdint.h>

struct port_pc_world {
    void *context;             /* first argument of every callback */

    /* Registers DDRx and PORTx of a port (A B C D E F G H J K L = 0..10) have changed. */
    void (*port_write)(void *context, uint8_t port, uint8_t ddr, uint8_t out);
    /* The levels at its pins. */
    uint8_t (*pin_read)(void *context, uint8_t port, uint8_t ddr, uint8_t out);
    /* 24 bits into the register chain, bytes[0] and its bit 7 first; back: what fell out. */
    void (*shift)(void *context, const uint8_t bytes[3], uint8_t back[3]);
    void (*latch)(void *context);
    /* A conversion takes its sample now: the code it will give, 0..1023.  `refs`: REFS1:0. */
    uint16_t (*sample)(void *context, uint8_t channel, uint8_t refs);
    /* Duty of the level drive has changed. */
    void (*pwm)(void *context, uint16_t duty);
    /* Time has passed, up to now. */
    void (*advance)(void *context, uint64_t now_ns);
    /* The device has sent a byte. */
    void (*tx)(void *context, uint8_t byte);
};

/* Reset: all port registers 0, then the firmware's own start.  Any callback may be
 * null (pins then read as what is driven, the chain loops back, samples are 0).
 * `cause` is what MCUSR would be.  Time and EEPROM go on. */
void port_pc_reset(const struct port_pc_world *world, uint8_t cause);

/* One turn of the main loop, and if that found nothing to do, sleep to the next tick
 * (500 us) or received byte.  Returns true if it slept. */
bool port_pc_poll(void);

/* Bytes from the host; they arrive one a byte time (20 us), one after the other. */
void port_pc_rx(const uint8_t *bytes, uint32_t count);

/* Virtual time since the library was loaded. */
uint64_t port_pc_now_ns(void);

/* The serial number in EEPROM. */
void port_pc_set_serial(uint32_t serial);

/* What one turn of the main loop costs; without this, and after a reset, about what it does on the controller. */
void port_pc_pace(uint32_t turn_ns);

/* Longest time between two feedings of the watchdog since the reset. */
uint64_t port_pc_watchdog_gap_ns(void);

/* Make the next byte from the host count as framed wrongly. */
void port_pc_break_byte(void);

#endif
