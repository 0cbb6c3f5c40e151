/* board_simavr.c: the real image in libsimavr 1.6, its faults cured.
 *
 * What the simulator does differently from silicon, and what is done about it here:
 *  - polls external interrupt pins that are low, every cycle: switched off
 *  - counts a parity bit with every byte, and does not see U2X set after UBRR: byte time
 *    set from the registers
 *  - 64 bytes deep receive FIFO (silicon: 2 and the shift register): more is a violation
 *  - every SPI byte takes 100 us: eight clocks here
 *  - converter scales to 1023, in millivolts, when ADCL is read, channels 8..15 wrong:
 *    ADCL and ADCH come from the network, sampled 1.5 converter clocks after the start
 *  - pins keep their last level, pull-ups win over everything: PIN is read from the network
 *  - no synchroniser: PIN read within two cycles after a change is a violation
 *  - reset clears ports and drops timers without a word: hooked
 *  - sleeping takes no wall time by itself: paced in bench_idle
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <simavr/avr_adc.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_spi.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bench.h"

DEFINE_FIFO(uint16_t, uart_fifo);

#define CLOCK_HZ 16000000.0
enum { /* data space addresses, ATmega2560 data sheet, register summary */
    R_ADCL = 0x78, R_ADCH = 0x79, R_ADCSRA = 0x7A, R_ADCSRB = 0x7B, R_ADMUX = 0x7C, R_TCCR1A = 0x80, R_TCCR1B = 0x81,
    R_ICR1L = 0x86, R_OCR1AL = 0x88, R_MCUSR = 0x54,
    R_SPCR = 0x4C, R_SPSR = 0x4D, R_SPDR = 0x4E
};
static const uint16_t pin_register[PORTS] = {0x20, 0x23, 0x26, 0x29, 0x2C, 0x2F, 0x32, 0x100, 0x103, 0x106, 0x109};

struct hook {
    struct bench *b;
    int port;
    avr_io_write_t write;
    void *param;
};

struct simavr_board {
    avr_t *avr;
    elf_firmware_t firmware;
    struct hook ddr[PORTS], out[PORTS], pin[PORTS];
    void (*core_reset)(avr_t *);
    avr_uart_t *uart;
    avr_irq_t *uart_in, *spi_in;
    double offset_s; /* network time minus cycles: the clock stood still so long */
    uint16_t result, pending;
    int channel, reference, quiet_resets;
    uint32_t converter_clock;
    avr_cycle_count_t changed, changed_port[PORTS], last_end;
    bool baud_told, converting, shifting, overran;
    uint16_t data_end;
    uint8_t canary[64];
    bool canary_set;
};

static struct simavr_board *board(const struct bench *b)
{
    return b->board;
}

static double now(const struct bench *b)
{
    return (double)board(b)->avr->cycle / CLOCK_HZ + board(b)->offset_s;
}

/* ---------------------------------------------------------------- time */

static avr_cycle_count_t on_wake(avr_t *avr, avr_cycle_count_t when, void *param);

static void schedule(struct bench *b)
{
    struct simavr_board *s = board(b);
    double at = network_wake_at(b->net);
    avr_cycle_timer_cancel(s->avr, on_wake, b);
    if (at < NEVER / 2) {
        double cycles = (at - now(b)) * CLOCK_HZ + 1;
        avr_cycle_timer_register(s->avr, cycles < 1 ? 1 : (avr_cycle_count_t)cycles, on_wake, b);
    }
}

static avr_cycle_count_t on_wake(avr_t *avr, avr_cycle_count_t when, void *param)
{
    struct bench *b = param;
    (void)when;
    (void)avr;
    network_advance(b->net, now(b));
    double left = network_wake_at(b->net) - now(b);
    if (left > 1e6)
        return 0;
    return board(b)->avr->cycle + (left * CLOCK_HZ < 1 ? 1 : (avr_cycle_count_t)(left * CLOCK_HZ) + 1);
}

/* ---------------------------------------------------------------- ports */

static void port_now(struct bench *b, int port)
{
    struct simavr_board *s = board(b);
    const uint8_t *data = s->avr->data;
    uint64_t solved = b->net->solves;
    double wake = network_wake_at(b->net);
    network_port(b->net, port, data[pin_register[port] + 1], data[pin_register[port] + 2], now(b));
    s->changed_port[port] = s->avr->cycle;
    if (b->net->solves != solved)
        s->changed = s->avr->cycle;
    if (network_wake_at(b->net) != wake)
        schedule(b);
}

static void on_port_write(avr_t *avr, avr_io_addr_t address, uint8_t v, void *param)
{
    struct hook *h = param;
    const struct simavr_board *s = board(h->b);
    const uint16_t at = pin_register[h->port];
    uint8_t ddr = avr->data[at + 1], out = avr->data[at + 2];
    h->write(avr, address, v, h->param);
    if (ddr != s->avr->data[at + 1] || out != s->avr->data[at + 2])
        port_now(h->b, h->port);
}

/* "One nop between out and in": the data sheet's figure on reading a programmed pin.
 * in/out take one cycle, lds/sts two, the read in the last: both show here as the
 * cycle at which the instruction starts. */
static uint8_t on_pin_read(avr_t *avr, avr_io_addr_t address, void *param)
{
    struct hook *h = param;
    struct simavr_board *s = board(h->b);
    avr_cycle_count_t last = s->changed > s->changed_port[h->port] ? s->changed : s->changed_port[h->port];
    if (last && avr->cycle - last < 2) {
        char name[8] = {'P', 'I', 'N', "ABCDEFGHJKL"[h->port], 0};
        watch_add(h->b->net, "pin read before its synchroniser", name, (double)avr->pc);
    }
    avr->data[address] = network_pins(h->b->net, h->port, now(h->b));
    return avr->data[address];
}

static void hook_ports(struct bench *b)
{
    struct simavr_board *s = board(b);
    for (int p = 0; p < PORTS; p++) {
        struct hook *hooks[3] = {&s->pin[p], &s->ddr[p], &s->out[p]};
        for (int r = 0; r < 3; r++) {
            int io = AVR_DATA_TO_IO(pin_register[p] + r);
            *hooks[r] = (struct hook){b, p, s->avr->io[io].w.c, s->avr->io[io].w.param};
            s->avr->io[io].w.c = on_port_write;
            s->avr->io[io].w.param = hooks[r];
        }
        s->avr->io[AVR_DATA_TO_IO(pin_register[p])].r.c = on_pin_read;
        s->avr->io[AVR_DATA_TO_IO(pin_register[p])].r.param = &s->pin[p];
    }
}

/* ---------------------------------------------------------------- converter */

static avr_cycle_count_t on_conversion(avr_t *avr, avr_cycle_count_t when, void *param)
{
    struct bench *b = param;
    struct simavr_board *s = board(b);
    (void)when;
    if (!s->converting) {
        s->result = s->pending;
        return 0;
    }
    s->converting = false;
    s->pending = (uint16_t)network_convert(b->net, s->channel, s->reference, 1.5 * s->converter_clock / CLOCK_HZ,
                                           now(b));
    return avr->cycle + (avr_cycle_count_t)(11.4 * s->converter_clock);
}

/* The multiplexer and the reference are latched at the start; the sample is taken 1.5
 * converter clocks later, 13.5 in the first conversion after switching on. */
static void on_adc_start(avr_irq_t *irq, uint32_t value, void *param)
{
    struct bench *b = param;
    struct simavr_board *s = board(b);
    const uint8_t *data = s->avr->data;
    (void)irq;
    (void)value;
    int prescaler = data[R_ADCSRA] & 7;
    s->converter_clock = prescaler ? 1u << prescaler : 2;
    int mux = (data[R_ADMUX] & 0x1F) | (data[R_ADCSRB] & 8 ? 0x20 : 0);
    s->channel = (mux & 7) + (mux & 0x20 ? 8 : 0);
    s->reference = data[R_ADMUX] >> 6;
    if (mux & 0x18 || data[R_ADMUX] & 0x20)
        watch_add(b->net, "converter channel or adjustment not modelled", "ADMUX", mux);
    if (s->converter_clock < 80 || s->converter_clock > 320)
        watch_add(b->net, "converter clock out of 50..200 kHz", "ADCSRA", CLOCK_HZ / s->converter_clock);
    bool first = false;
    for (avr_io_t *io = s->avr->io_port; io; io = io->next)
        if (!strcmp(io->kind, "adc"))
            first = ((avr_adc_t *)io)->first;
    s->converting = true;
    network_reference(b->net, s->reference, now(b));
    avr_cycle_timer_cancel(s->avr, on_conversion, b);
    avr_cycle_timer_register(s->avr, (avr_cycle_count_t)((first ? 13.5 : 1.5) * s->converter_clock), on_conversion, b);
}

static uint8_t on_adc_read(avr_t *avr, avr_io_addr_t address, void *param)
{
    struct simavr_board *s = board(param);
    avr->data[address] = address == R_ADCL ? (uint8_t)s->result : (uint8_t)(s->result >> 8);
    return avr->data[address];
}

/* ---------------------------------------------------------------- level drive */

static void look_at_pwm(struct bench *b)
{
    const uint8_t *data = board(b)->avr->data;
    uint8_t a = data[R_TCCR1A], c = data[R_TCCR1B];
    int mode = (a & 3) | (c >> 1 & 0xC), top;
    switch (mode) {
    case 1: case 5: top = 255; break;
    case 2: case 6: top = 511; break;
    case 3: case 7: top = 1023; break;
    default: top = data[R_ICR1L] | data[R_ICR1L + 1] << 8; break;
    }
    double duty = -1;
    if ((a & 0xC0) && (c & 7) && mode && mode != 4 && mode != 12 && top > 0) {
        bool fast = mode == 5 || mode == 6 || mode == 7 || mode >= 14;
        int match = data[R_OCR1AL] | data[R_OCR1AL + 1] << 8;
        duty = fast ? (match + 1.0) / (top + 1.0) : match / (double)top;
        duty = duty > 1 ? 1 : duty;
        if ((a & 0xC0) == 0xC0)
            duty = 1 - duty;
        int pin = b->net->sp.pwm_pin;
        if (!(data[pin_register[pin / 8] + 1] >> pin % 8 & 1))
            duty = 0; /* pin is an input: the filter holds what leaks away anyway */
    }
    network_duty(b->net, duty, now(b));
}

/* ---------------------------------------------------------------- stack */

/* The bytes just above the program's data are the stack's last reserve: they must keep
 * what they hold, and the stack pointer must stay above them. */
static void check_stack(struct bench *b)
{
    struct simavr_board *s = board(b);
    const uint8_t *at = s->avr->data + s->data_end;
    uint16_t sp = (uint16_t)(s->avr->data[R_SPL] | s->avr->data[R_SPL + 1] << 8);
    if (!s->data_end || s->overran)
        return;
    if (!s->canary_set)
        memcpy(s->canary, at, sizeof s->canary);
    s->canary_set = true;
    s->overran = sp < s->data_end + sizeof s->canary || memcmp(s->canary, at, sizeof s->canary);
    if (s->overran)
        watch_add(b->net, "stack ran into its reserve", "RAM", sp);
}

/* ---------------------------------------------------------------- serial */

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

static avr_cycle_count_t on_serial(avr_t *avr, avr_cycle_count_t when, void *param)
{
    struct bench *b = param;
    struct simavr_board *s = board(b);
    if (now(b) - s->offset_s > 5e-3) /* the program has painted its stack by then */
        check_stack(b);
    bool receives = avr->data[s->uart->rxen.reg] >> s->uart->rxen.bit & 1;
    if (receives)
        check_baud(b);
    if (!ring_count(&b->rx)) {
        bench_serve(b);
        bench_busy(b);
        look_at_pwm(b);
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

/* ---------------------------------------------------------------- life */

static void on_sleep(avr_t *avr, avr_cycle_count_t cycles)
{
    struct bench *b = avr->custom.data;
    network_advance(b->net, now(b));
    bench_idle(b, now(b), (double)cycles / CLOCK_HZ);
}

/* Before the second instruction: the reset of the peripherals, after on_reset, asks for
 * polling again, and a poll once begun does not end while the pin is low. */
static avr_cycle_count_t on_first_cycle(avr_t *avr, avr_cycle_count_t when, void *param)
{
    (void)when;
    (void)param;
    for (int i = 0; i < 8; i++)
        avr_extint_set_strict_lvl_trig(avr, (uint8_t)i, 0);
    return 0;
}

static void start_timers(struct bench *b)
{
    avr_cycle_timer_register(board(b)->avr, 1, on_first_cycle, b);
    avr_cycle_timer_register(board(b)->avr, 1600, on_serial, b);
    schedule(b);
}

static void on_reset(avr_t *avr)
{
    struct bench *b = avr->custom.data;
    struct simavr_board *s = board(b);
    uint8_t off[PORTS] = {0};
    if (s->core_reset)
        s->core_reset(avr);
    b->resets++;
    if (s->quiet_resets > 0)
        s->quiet_resets--;
    else
        watch_add(b->net, "unexpected reset", "MCUSR", avr->data[R_MCUSR]);
    s->converting = s->shifting = s->overran = s->canary_set = s->baud_told = false;
    network_ports(b->net, off, off, now(b));
    start_timers(b);
}

static void on_log(avr_t *avr, const int level, const char *format, va_list list)
{
    (void)avr;
    if (level <= LOG_ERROR)
        vfprintf(stderr, format, list);
}

static int stack_free(const struct bench *b)
{
    const struct simavr_board *s = board(b);
    if (!s->data_end)
        return -1;
    const uint8_t *ram = s->avr->data;
    int free_bytes = 0;
    while (s->data_end + free_bytes < s->avr->ramend && ram[s->data_end + free_bytes] == ram[s->data_end])
        free_bytes++;
    return free_bytes;
}

static void thaw(struct bench *b, double until)
{
    struct simavr_board *s = board(b);
    double to = b->frozen_until < until ? b->frozen_until : until, from = now(b);
    if (to > from) {
        network_advance(b->net, to);
        s->offset_s += to - from;
        schedule(b);
    }
    if (b->frozen_until <= until)
        b->frozen_until = 0;
}

static void run(struct bench *b, double until)
{
    struct simavr_board *s = board(b);
    unsigned turn = 0;
    while (now(b) < until && !b->trouble[0]) {
        if (b->frozen_until > 0) {
            thaw(b, until);
            continue;
        }
        int state = avr_run(s->avr);
        if (state == cpu_Crashed || state == cpu_Done) {
            snprintf(b->trouble, sizeof b->trouble, "%s at pc %05x",
                     state == cpu_Crashed ? "program crashed" : "program slept for ever", s->avr->pc);
            watch_add(b->net, state == cpu_Crashed ? "program crashed" : "program slept for ever", "CPU", s->avr->pc);
        }
        if (++turn % 64 == 0 && b->wall_end > 0 && wall_s() > b->wall_end)
            break;
    }
    network_advance(b->net, now(b));
    bench_serve(b);
}

static void reset(struct bench *b)
{
    struct simavr_board *s = board(b);
    s->quiet_resets++;
    avr_reset(s->avr);
    s->avr->data[R_MCUSR] = 2; /* external */
    b->trouble[0] = 0;
}

/* `rjmp .` in the last flash word, interrupts off: only the watchdog helps. */
static void spin(struct bench *b)
{
    struct simavr_board *s = board(b);
    uint32_t last = s->avr->flashend - 1;
    s->avr->flash[last] = 0xFF;
    s->avr->flash[last + 1] = 0xCF;
    if (s->avr->codeend < s->avr->flashend)
        s->avr->codeend = s->avr->flashend;
    s->avr->pc = last;
    s->avr->sreg[S_I] = 0;
    s->avr->state = cpu_Running;
    s->quiet_resets++;
}

static void close_board(struct bench *b)
{
    struct simavr_board *s = board(b);
    avr_terminate(s->avr);
    free(s->firmware.flash);
    free(s);
}

static uint64_t cycles(const struct bench *b)
{
    return board(b)->avr->cycle;
}

static int peek(const struct bench *b, uint32_t address)
{
    return address <= board(b)->avr->ramend ? board(b)->avr->data[address] : -1;
}

static const struct board_ops simavr_ops = {run, reset, spin, close_board, cycles, stack_free, peek};

static void find_parts(struct bench *b)
{
    struct simavr_board *s = board(b);
    for (avr_io_t *io = s->avr->io_port; io; io = io->next)
        if (!strcmp(io->kind, "uart") && ((avr_uart_t *)io)->name == '0')
            s->uart = (avr_uart_t *)io;
    uint32_t none = 0;
    avr_ioctl(s->avr, AVR_IOCTL_UART_SET_FLAGS('0'), &none);
    s->uart_in = avr_io_getirq(s->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
    s->spi_in = avr_io_getirq(s->avr, AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT);
    avr_irq_register_notify(avr_io_getirq(s->avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_OUTPUT), on_uart_out, b);
    s->avr->io[AVR_DATA_TO_IO(R_SPDR)].w.c = on_spi_write;
    s->avr->io[AVR_DATA_TO_IO(R_SPDR)].w.param = b;
    avr_irq_register_notify(avr_io_getirq(s->avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER), on_adc_start, b);
    for (int r = R_ADCL; r <= R_ADCH; r++) {
        s->avr->io[AVR_DATA_TO_IO(r)].r.c = on_adc_read;
        s->avr->io[AVR_DATA_TO_IO(r)].r.param = b;
    }
}

/* The linker's `_end`: where the static data end and the stack may come to. */
static uint16_t end_of_data(const elf_firmware_t *firmware)
{
    for (uint32_t i = 0; i < firmware->symbolcount; i++)
        if (!strcmp(firmware->symbol[i]->symbol, "_end"))
            return (uint16_t)firmware->symbol[i]->addr;
    return 0;
}

/* An ELF file for the AVR (machine 83)? The simulator's own reader takes anything. */
static bool is_image(const char *path)
{
    uint8_t head[20] = {0};
    FILE *file = fopen(path, "rb");
    bool good = file && fread(head, 1, sizeof head, file) == sizeof head && !memcmp(head, "\177ELF", 4) &&
                head[18] == 83 && head[19] == 0;
    if (file)
        fclose(file);
    return good;
}

int board_simavr_open(struct bench *b, const char *elf, char *error, size_t size)
{
    struct simavr_board *s = calloc(1, sizeof *s);
    b->board = s;
    avr_global_logger_set(on_log);
    if (!is_image(elf) || elf_read_firmware(elf, &s->firmware)) {
        snprintf(error, size, "%s is no image for the controller; build one with `make -C firmware elf`", elf);
        free(s);
        return -1;
    }
    s->firmware.frequency = (uint32_t)CLOCK_HZ;
    s->firmware.vcc = s->firmware.avcc = s->firmware.aref = 5000;
    s->avr = avr_make_mcu_by_name("atmega2560");
    if (!s->avr) {
        snprintf(error, size, "libsimavr knows no atmega2560; install libsimavr2");
        free(s);
        return -1;
    }
    b->ops = &simavr_ops;
    avr_init(s->avr);
    avr_load_firmware(s->avr, &s->firmware);
    s->avr->log = LOG_ERROR;
    s->avr->custom.data = b;
    s->avr->sleep = on_sleep;
    s->data_end = end_of_data(&s->firmware);
    hook_ports(b);
    find_parts(b);
    s->core_reset = s->avr->reset;
    s->avr->reset = on_reset;
    s->quiet_resets = 1;
    avr_reset(s->avr);
    b->resets = 0;
    s->avr->data[R_MCUSR] = 1; /* power-on */
    return 0;
}
