/* simavr_serial.c: the serial line and the register chain's bytes.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <simavr/avr_spi.h>
#include <string.h>

#include "simavr_board.h"

DEFINE_FIFO(uint16_t, uart_fifo);

static void on_uart_out(avr_irq_t *irq, uint32_t value, void *param)
{
    struct bench *b = param;
    (void)irq;
    ring_put(&b->tx, (uint8_t)value);
    b->bytes_out++;
}

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

avr_cycle_count_t simavr_on_serial(avr_t *avr, avr_cycle_count_t when, void *param)
{
    struct bench *b = param;
    struct simavr_board *s = board(b);
    if (now(b) - s->offset_s > 5e-3) /* the program has painted its stack by then */
        simavr_check_stack(b);
    bool receives = avr->data[s->uart->rxen.reg] >> s->uart->rxen.bit & 1;
    if (receives)
        check_baud(b);
    if (!ring_count(&b->rx)) {
        bench_serve(b);
        bench_busy(b);
        simavr_look_at_pwm(b);
    }
    if (!ring_count(&b->rx))
        return when + (avr_cycle_count_t)(POLL_S * CLOCK_HZ);
    if (receives) {
        if (uart_fifo_get_read_size(&s->uart->input) > 2)
            watch_add(b->net, "receiver overrun", "UART0", uart_fifo_get_read_size(&s->uart->input));
        avr_raise_irq(s->uart_in, (uint32_t)ring_get(&b->rx));
        b->bytes_in++;
    } else {
        ring_get(&b->rx); /* lost, as on the wire */
    }
    if (!ring_count(&b->rx))
        bench_serve(b);
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
    s->uart_in = avr_io_getirq(s->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    s->spi_in = avr_io_getirq(s->avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(s->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_uart_out, b);
    s->avr->io[AVR_DATA_TO_IO(R_SPDR)].w.c = on_spi_write;
    s->avr->io[AVR_DATA_TO_IO(R_SPDR)].w.param = b;
}
