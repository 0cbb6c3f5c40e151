/* simavr_board.h: what the files of the simulated board share.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#ifndef VIRTUAL_FIXTURE_SIMAVR_BOARD_H
#define VIRTUAL_FIXTURE_SIMAVR_BOARD_H

#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>

#include "bench.h"

#define CLOCK_HZ 16000000.0
enum { /* data space addresses, ATmega2560 data sheet, register summary */
    R_ADCL = 0x78, R_ADCH = 0x79, R_ADCSRA = 0x7A, R_ADCSRB = 0x7B, R_ADMUX = 0x7C, R_TCCR1A = 0x80, R_TCCR1B = 0x81,
    R_ICR1L = 0x86, R_OCR1AL = 0x88, R_MCUSR = 0x54,
    R_SPCR = 0x4C, R_SPSR = 0x4D, R_SPDR = 0x4E
};
extern const uint16_t pin_register[PORTS]; /* PINx; DDRx and PORTx follow it */

struct hook {
    struct bench *b;
    int port;
    avr_io_write_t write;
    void *param;
};

struct simavr_board {
    avr_t *avr;
    elf_firmware_t firmware;
    struct hook ddr[PORTS], out[PORTS], pin[PORTS], pwm[2], control;
    void (*core_reset)(avr_t *);
    avr_uart_t *uart;
    avr_irq_t *spi_in;
    uint8_t received[3], received_count;
    bool transmitting, transmit_waiting;
    int arriving; /* on the line now, -1: nothing */
    double offset_s; /* network time minus cycles: the clock stood still so long */
    uint16_t result, pending;
    int channel, reference, quiet_resets;
    uint32_t converter_clock;
    avr_cycle_count_t changed, changed_port[PORTS];
    bool baud_told, converting, shifting, overran;
    uint16_t data_end;
    uint8_t canary[64];
    bool canary_set;
};

static inline struct simavr_board *board(const struct bench *b)
{
    return b->board;
}

/* Network time. */
static inline double now(const struct bench *b)
{
    return (double)board(b)->avr->cycle / CLOCK_HZ + board(b)->offset_s;
}

void simavr_schedule(struct bench *b);     /* wake the network when it asks for it */
void simavr_hook_ports(struct bench *b);
void simavr_hook_converter(struct bench *b);
void simavr_hook_serial(struct bench *b);
void simavr_check_stack(struct bench *b);
int simavr_stack_free(const struct bench *b);
avr_cycle_count_t simavr_on_serial(avr_t *avr, avr_cycle_count_t when, void *param);

#endif
