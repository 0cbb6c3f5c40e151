/* board_simavr.c: the real image in libsimavr 1.6, its faults cured.
 *
 * What the simulator does differently from silicon, and what is done about it here:
 *  - polls external interrupt pins that are low, every cycle: switched off
 *  - counts a parity bit with every byte, and does not see U2X set after UBRR: byte time
 *    set from the registers
 *  - 64 bytes deep receive FIFO that gives out one byte a byte time, however late: a
 *    receiver of two bytes and the shift register here, and more is a violation
 *  - a transmitter without a second buffer: one of its own here
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
#include <simavr/avr_extint.h>
#include <math.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "simavr_board.h"

/* ---------------------------------------------------------------- time */

static avr_cycle_count_t on_wake(avr_t *avr, avr_cycle_count_t when, void *param);

void simavr_schedule(struct bench *b)
{
    struct simavr_board *s = board(b);
    double at = network_wake_at(b->net);
    avr_cycle_timer_cancel(s->avr, on_wake, b);
    if (at < NEVER / 2) {
        double wait = (at - now(b)) * CLOCK_HZ + 1;
        avr_cycle_timer_register(s->avr, wait < 1 ? 1 : (avr_cycle_count_t)wait, on_wake, b);
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
    avr_cycle_timer_register(board(b)->avr, 1600, simavr_on_serial, b);
    simavr_schedule(b);
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
    s->received_count = 0;
    s->arriving = -1;
    s->transmitting = s->transmit_waiting = false;
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

static void thaw(struct bench *b, double until)
{
    struct simavr_board *s = board(b);
    double to = b->frozen_until < until ? b->frozen_until : until, from = now(b);
    if (to > from) {
        network_advance(b->net, to);
        s->offset_s += to - from;
        simavr_schedule(b);
    }
    if (b->frozen_until <= until)
        b->frozen_until = 0;
}

static void stopped(struct bench *b, int state)
{
    const char *what = state == cpu_Crashed ? "program crashed" : "program slept for ever";
    snprintf(b->trouble, sizeof b->trouble, "%s at pc %05x", what, board(b)->avr->pc);
    watch_add(b->net, what, "CPU", board(b)->avr->pc);
}

static void run(struct bench *b, double until)
{
    struct simavr_board *s = board(b);
    unsigned turn = 0;
    while (now(b) < until && !b->trouble[0] && !bench_stop(b)) {
        if (b->frozen_until > 0) {
            thaw(b, until);
            continue;
        }
        if (b->held && !bench_await(b))
            break;
        avr_cycle_count_t end = s->avr->cycle + (avr_cycle_count_t)fmin(1e6, ceil((until - now(b)) * CLOCK_HZ));
        int state = cpu_Running;
        while (s->avr->cycle < end && b->frozen_until <= 0 && !b->held && !bench_stop(b) && state != cpu_Crashed && state != cpu_Done &&
               (++turn % 64 || b->wall_end <= 0 || wall_s() < b->wall_end))
            state = avr_run(s->avr);
        if (state == cpu_Crashed || state == cpu_Done)
            stopped(b, state);
        if (b->wall_end > 0 && wall_s() > b->wall_end)
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
    free(s->avr);
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

static const struct board_ops simavr_ops = {run, reset, spin, close_board, cycles, simavr_stack_free, peek};

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
    simavr_hook_ports(b);
    simavr_hook_converter(b);
    simavr_hook_serial(b);
    s->core_reset = s->avr->reset;
    s->avr->reset = on_reset;
    s->quiet_resets = 1;
    avr_reset(s->avr);
    b->resets = 0;
    s->avr->data[R_MCUSR] = 1; /* power-on */
    return 0;
}
