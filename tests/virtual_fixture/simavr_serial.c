/* simavr_serial.c: the serial line and the register chain's bytes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <simavr/avr_spi.h>
#include <string.h>

#include "simavr_board.h"

/* libsimavr's own byte time is wrong twice over: it is set from the registers. */
static void check_baud(struct bench *b)
{
    struct simavr_board *s = board(b);
    const uint8_t *data = s->avr->data;
    uint32_t divider = (data[s->uart->r_ucsra] & 2 ? 8 : 16) *
                       (1u + data[s->uart->ubrrl.reg] + ((data[s->uart->ubrrh.reg] & 15u) << 8));
    s->uart->cycles_per_byte = 10ull * divider;
    double off = CLOCK_HZ / divider / BAUD - 1;
    if (!s->baud_told && (off > 0.02 || off < -0.02)) {
        s->baud_told = true;
        watch_add(b->net, "baud rate wrong", "UART0", CLOCK_HZ / divider);
    }
}

/* The transmitter: one byte in the shift register, one waiting in the buffer. */
static void buffer_free(struct simavr_board *s, bool is)
{
    avr_clear_interrupt(s->avr, &s->uart->udrc);
    avr_regbit_clear(s->avr, s->uart->udrc.raised);
    if (is)
        avr_raise_interrupt(s->avr, &s->uart->udrc);
}

static avr_cycle_count_t on_sent(avr_t *avr, avr_cycle_count_t when, void *param)
{
    struct simavr_board *s = board(param);
    if (s->transmit_waiting) {
        s->transmit_waiting = false;
        buffer_free(s, true);
        return when + s->uart->cycles_per_byte;
    }
    s->transmitting = false;
    avr_raise_interrupt(avr, &s->uart->txc);
    return 0;
}

static void on_uart_write(avr_t *avr, avr_io_addr_t address, uint8_t v, void *param)
{
    struct bench *b = param;
    struct simavr_board *s = board(b);
    (void)address;
    if (!(avr->data[s->uart->txen.reg] >> s->uart->txen.bit & 1) || s->transmit_waiting)
        return; /* off, or the buffer is full: the silicon does not take it either */
    check_baud(b);
    ring_put(&b->tx, v);
    b->bytes_out++;
    if (s->transmitting)
        s->transmit_waiting = true;
    else
        avr_cycle_timer_register(avr, s->uart->cycles_per_byte, on_sent, b);
    s->transmitting = true;
    buffer_free(s, !s->transmit_waiting);
}

/* libsimavr takes the buffer for free whenever its interrupt is switched on. */
static void on_uart_control(avr_t *avr, avr_io_addr_t address, uint8_t v, void *param)
{
    struct hook *h = param;
    h->write(avr, address, v, h->param);
    buffer_free(board(h->b), !board(h->b)->transmit_waiting);
}

static bool receives(const struct simavr_board *s)
{
    return s->avr->data[s->uart->rxen.reg] >> s->uart->rxen.bit & 1;
}

/* A byte has arrived: two are buffered, a third waits in the shift register. */
static void arrive(struct simavr_board *s)
{
    if (receives(s)) {
        s->received[s->received_count++] = (uint8_t)s->arriving;
        avr_raise_interrupt(s->avr, &s->uart->rxc);
    }
    s->arriving = -1;
}

/* A start bit while all three places are full: the byte in the shift register is lost. */
static void overrun(struct bench *b)
{
    struct simavr_board *s = board(b);
    watch_add(b->net, "receiver overrun", "UART0", s->received_count);
    s->received_count--;
    s->avr->data[s->uart->r_ucsra] |= 1 << 3; /* DOR */
}

static uint8_t on_uart_read(avr_t *avr, avr_io_addr_t address, void *param)
{
    struct simavr_board *s = board(param);
    (void)address;
    avr_clear_interrupt(avr, &s->uart->rxc);
    avr_regbit_clear(avr, s->uart->rxc.raised);
    avr->data[s->uart->r_ucsra] &= (uint8_t)~(1 << 3);
    if (!s->received_count)
        return 0;
    uint8_t byte = s->received[0];
    s->received_count--;
    memmove(s->received, s->received + 1, sizeof s->received - 1);
    if (s->received_count)
        avr_raise_interrupt(avr, &s->uart->rxc);
    return byte;
}

/* Every byte time while bytes come, else every POLL_S. */
avr_cycle_count_t simavr_on_serial(avr_t *avr, avr_cycle_count_t when, void *param)
{
    struct bench *b = param;
    struct simavr_board *s = board(b);
    (void)avr;
    if (now(b) - s->offset_s > 5e-3) /* the program has painted its stack by then */
        simavr_check_stack(b);
    if (receives(s))
        check_baud(b);
    if (s->arriving >= 0)
        arrive(s);
    if (!ring_count(&b->rx)) {
        if (now(b) - b->served > POLL_S)
            bench_serve(b);
        bench_busy(b);
    }
    if (!ring_count(&b->rx))
        return when + (avr_cycle_count_t)(POLL_S * CLOCK_HZ);
    if (s->received_count == sizeof s->received)
        overrun(b);
    s->arriving = ring_get(&b->rx);
    b->bytes_in++;
    return when + (avr_cycle_count_t)(BYTE_S * CLOCK_HZ);
}

static avr_cycle_count_t on_spi_done(avr_t *avr, avr_cycle_count_t when, void *param)
{
    struct bench *b = param;
    struct simavr_board *s = board(b);
    (void)when;
    s->shifting = false;
    avr_raise_irq(s->spi_in, network_shift(b->net, avr->data[R_SPDR], now(b)));
    return 0;
}

/* libsimavr lets every byte take 100 us; here it takes its eight clocks. */
static void on_spi_write(avr_t *avr, avr_io_addr_t address, uint8_t v, void *param)
{
    static const uint8_t divider[8] = {4, 16, 64, 128, 2, 8, 32, 64};
    struct bench *b = param;
    struct simavr_board *s = board(b);
    uint8_t control = avr->data[R_SPCR];
    if ((control & 0x50) != 0x50) {
        avr->data[address] = v; /* not enabled as a master: nothing moves */
        return;
    }
    if (control & 0x2C)
        watch_add(b->net, "shift register clocked in the wrong mode", "SPCR", control);
    if (s->shifting) {
        watch_add(b->net, "shift register written while it shifts", "SPDR", v);
        return;
    }
    avr->data[address] = v;
    s->shifting = true;
    avr_cycle_timer_register(avr, 8u * divider[(control & 3) | (avr->data[R_SPSR] & 1) << 2], on_spi_done, b);
}

void simavr_hook_serial(struct bench *b)
{
    struct simavr_board *s = board(b);
    for (avr_io_t *io = s->avr->io_port; io; io = io->next)
        if (!strcmp(io->kind, "uart") && ((avr_uart_t *)io)->name == '0')
            s->uart = (avr_uart_t *)io;
    uint32_t none = 0; /* no sleeping on polls, no printing of lines */
    avr_ioctl(s->avr, AVR_IOCTL_UART_SET_FLAGS('0'), &none);
    s->avr->io[AVR_DATA_TO_IO(s->uart->r_udr)].r.c = on_uart_read;
    s->avr->io[AVR_DATA_TO_IO(s->uart->r_udr)].r.param = b;
    s->spi_in = avr_io_getirq(s->avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT);
    s->avr->io[AVR_DATA_TO_IO(s->uart->r_udr)].w.c = on_uart_write;
    s->avr->io[AVR_DATA_TO_IO(s->uart->r_udr)].w.param = b;
    int control = AVR_DATA_TO_IO(s->uart->r_ucsrb);
    s->control = (struct hook){b, 0, s->avr->io[control].w.c, s->avr->io[control].w.param};
    s->avr->io[control].w.c = on_uart_control;
    s->avr->io[control].w.param = &s->control;
    s->avr->io[AVR_DATA_TO_IO(R_SPDR)].w.c = on_spi_write;
    s->avr->io[AVR_DATA_TO_IO(R_SPDR)].w.param = b;
}
