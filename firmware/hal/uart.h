/* SPDX-License-Identifier: MIT */
/* The serial port as two rings of bytes, filled and emptied by interrupt. */
#ifndef HAL_UART_H
#define HAL_UART_H
#include <stdbool.h>
#include <stdint.h>

/* Take bytes received, at most `most`; how many there were. */
uint8_t hal_uart_get(uint8_t *to, uint8_t most);

/* Send bytes; how many of them found room. */
uint8_t hal_uart_put(const uint8_t *bytes, uint8_t count);

/* True once if bytes were lost or framed wrongly since the last call. */
bool hal_uart_error(void);

#endif
