/* SPDX-License-Identifier: MIT */
/* What is left: level drive, EEPROM, watchdog, reset cause, stack, sleep. */
#ifndef HAL_DEVICE_H
#define HAL_DEVICE_H
#include <stdint.h>

/* Duty of the level drive: high for exactly `duty` of each 1024 counts, 0..1023. */
void hal_pwm(uint16_t duty);

/* The serial number in EEPROM (FFFFFFFF: never set). */
uint32_t hal_serial_get(void);

/* Store one byte (0 = lowest .. 3) of the serial number.  At once if the EEPROM is
 * ready and returns 1; else returns 0 and the caller comes again. */
uint8_t hal_serial_put(uint8_t index, uint8_t byte);

/* Feed the watchdog. */
void hal_watchdog(void);

/* MCUSR as it was at the start. */
uint8_t hal_reset_cause(void);

/* Bytes between heap and stack never used since the start; 0 where unknown. */
uint16_t hal_stack_free(void);

/* Sleep until the next interrupt (at most 2 ms), but not if a byte has come. */
void hal_idle(void);

#endif
