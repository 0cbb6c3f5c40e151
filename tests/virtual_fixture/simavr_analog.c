/* simavr_analog.c: the converter and the level drive's PWM.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <simavr/avr_adc.h>
#include <string.h>

#include "simavr_board.h"

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

static void on_pwm_write(avr_t *avr, avr_io_addr_t address, uint8_t v, void *param)
{
    struct hook *h = param;
    h->write(avr, address, v, h->param);
    look_at_pwm(h->b);
}

void simavr_hook_converter(struct bench *b)
{
    struct simavr_board *s = board(b);
    const uint16_t pwm[2] = {R_TCCR1A, R_OCR1AL}; /* the high byte of OCR1A is written before the low one */
    for (int n = 0; n < 2; n++) {
        int io = AVR_DATA_TO_IO(pwm[n]);
        s->pwm[n] = (struct hook){b, 0, s->avr->io[io].w.c, s->avr->io[io].w.param};
        s->avr->io[io].w.c = on_pwm_write;
        s->avr->io[io].w.param = &s->pwm[n];
    }
    avr_irq_register_notify(avr_io_getirq(s->avr, AVR_IOCTL_ADC_GETIRQ, ADC_IRQ_OUT_TRIGGER), on_adc_start, b);
    for (int r = R_ADCL; r <= R_ADCH; r++) {
        s->avr->io[AVR_DATA_TO_IO(r)].r.c = on_adc_read;
        s->avr->io[AVR_DATA_TO_IO(r)].r.param = b;
    }
}
