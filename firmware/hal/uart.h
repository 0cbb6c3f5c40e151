/* SPDX-License-Identifier: MIT */
/* The serial port as two rings of bytes, filled and emptied by interrupt. */
#ifndef HAL_UART_H
#define HAL_UART_H
#include <stdbool.h>
#include <stdint.h>

/* Next byte received, 0..255, or -1. */
int16_t hal_uart_get(void);

/* Bytes that the transmit ring can take now. */
uint8_t hal_uart_room(void);

/* Put one byte; only when there is room. */
void hal_uart_put(uint8_t byte);

/* True once if bytes were lost or framed wrongly since the last call. */
bool hal_uart_error(void);

#endif
