/* Small programs for the simulated controller, one a CASE, each about one thing the
 * simulator once got wrong or one fault that must be noticed.
 *
 * Results go to result[]; done is set when a program has finished.
 *
 * SPDX-License-Identifier: GPL-3.0-or-later
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <util/delay.h>

volatile uint16_t result[64];
volatile uint8_t done;
uint8_t kept __attribute__((section(".noinit")));
uint8_t cause __attribute__((section(".noinit")));

void first(void) __attribute__((naked, used, section(".init3")));
void first(void)
{
    cause = MCUSR;
    MCUSR = 0;
    wdt_disable();
}

static uint16_t convert(uint8_t channel, uint8_t refs)
{
    ADMUX = refs << 6 | (channel & 7);
    ADCSRB = channel & 8 ? 1 << MUX5 : 0;
    ADCSRA = 1 << ADEN | 1 << ADSC | 7;
    while (ADCSRA & 1 << ADSC)
        ;
    return ADC;
}

static void uart(void)
{
    UBRR0 = 3; /* U2X is written after it */
    UCSR0A = 1 << U2X0;
    UCSR0C = 3 << UCSZ00;
    UCSR0B = 1 << RXEN0 | 1 << TXEN0;
}

static void finish(void)
{
    done = 1;
    cli();
    for (;;)
        ;
}

#if defined CASE_channels /* S1..S4 high, M1..M4 low: channels 15 13 11 9 high, 14 12 10 8 low */
int main(void)
{
    DDRK = 0xFF;
    PORTK = 0xAA;
    convert(3, 1);
    _delay_ms(25);
    for (uint8_t c = 0; c < 16; c++)
        result[c] = convert(c, 1);
    finish();
}
#elif defined CASE_conversion_time
int main(void)
{
    TCCR1B = 1;
    for (uint8_t n = 0; n < 3; n++) {
        uint16_t start = TCNT1;
        convert(3, 1);
        result[n] = TCNT1 - start;
    }
    finish();
}
#elif defined CASE_sample_moment /* channel 9 is S4; it goes high some cycles after the start */
static uint16_t late(uint16_t cycles)
{
    PORTK &= ~2;
    convert(9, 1);
    ADCSRA |= 1 << ADSC;
    _delay_loop_2(cycles / 4);
    PORTK |= 2;
    while (ADCSRA & 1 << ADSC)
        ;
    return ADC;
}
int main(void)
{
    DDRK = 2;
    convert(9, 1);
    _delay_ms(25);
    result[0] = late(80);
    result[1] = late(320);
    finish();
}
#elif defined CASE_pin_too_soon
int main(void)
{
    DDRA = 0xFF;
    __asm__ __volatile__("out %0, %2\n\tin r24, %1" : : "I"(_SFR_IO_ADDR(PORTA)), "I"(_SFR_IO_ADDR(PINA)), "r"(0x55) : "r24");
    finish();
}
#elif defined CASE_pin_in_time
int main(void)
{
    DDRA = 0xFF;
    _delay_us(1);
    __asm__ __volatile__("out %1, %3\n\tnop\n\tin r24, %2\n\tsts %0, r24" : "=m"(result[0])
                         : "I"(_SFR_IO_ADDR(PORTA)), "I"(_SFR_IO_ADDR(PINA)), "r"(0x55) : "r24");
    DDRL = 0;
    PORTL = 1; /* sts and lds: two cycles each, in time by themselves */
    result[1] = PINL;
    finish();
}
#elif defined CASE_pull_up /* M24 = PA0 in the socket with 4k7 to ground, M23 = PA2 with nothing */
int main(void)
{
    PORTA = 0x05;
    _delay_ms(1);
    result[0] = PINA & 5;
    PORTA = 0;
    DDRA = 4;
    _delay_ms(1);
    DDRA = 0;
    result[1] = PINA & 5; /* the floating position still holds its charge */
    PORTA = 8;            /* S23 pulls it up now, the pin is hi-Z */
    DDRA = 8;
    _delay_us(10);
    result[2] = PINA & 5;
    finish();
}
#elif defined CASE_uart_pace
int main(void)
{
    uart();
    TCCR1B = 2; /* / 8 */
    UDR0 = 'a';
    while (!(UCSR0A & 1 << UDRE0))
        ;
    uint16_t start = TCNT1;
    for (uint8_t n = 0; n < 50; n++) {
        UDR0 = 'b';
        while (!(UCSR0A & 1 << UDRE0))
            ;
    }
    result[0] = TCNT1 - start;
    finish();
}
#elif defined CASE_uart_baud
int main(void)
{
    uart();
    UBRR0 = 8; /* 222 kBd */
    for (;;)
        if (UCSR0A & 1 << RXC0)
            result[0] = UDR0;
}
#elif defined CASE_uart_echo || defined CASE_uart_deaf
int main(void)
{
    uart();
    uint8_t n = 0;
    for (;;) {
#ifdef CASE_uart_deaf
        if (n == 10)
            _delay_ms(1);
#endif
        if (UCSR0A & 1 << RXC0) {
            UDR0 = UDR0;
            n++;
        }
    }
}
#elif defined CASE_interrupt_pins_high || defined CASE_interrupt_pins_low
int main(void)
{
    DDRD = 0x0F;
#ifdef CASE_interrupt_pins_high
    PORTD = 0x0F;
#endif
    for (;;)
        __asm__ __volatile__("nop");
}
#elif defined CASE_watchdog
int main(void)
{
    result[0] = cause;
    result[1] = kept;
    if (cause & 1 << WDRF) {
        result[2] = DDRA;
        finish();
    }
    kept = 0x5A;
    DDRA = 0xFF;
    PORTA = 0xFF;
    wdt_enable(WDTO_60MS);
    for (;;)
        ;
}
#elif defined CASE_crash
int main(void)
{
    *(volatile uint8_t *)0x7FFF = 1;
    finish();
}
#elif defined CASE_sleep_for_ever
int main(void)
{
    cli();
    sleep_enable();
    sleep_cpu();
    finish();
}
#elif defined CASE_stack
static uint16_t deep(uint16_t n) __attribute__((noinline));
static uint16_t deep(uint16_t n)
{
    volatile uint8_t room[64];
    room[n & 63] = (uint8_t)n;
    return n ? (uint16_t)(deep(n - 1) + room[n & 63]) : 0;
}
int main(void)
{
    _delay_ms(10);
    for (uint8_t n = 60; n < 140; n++)
        result[63] = deep(n);
    finish();
}
#elif defined CASE_spi
static uint8_t spi(uint8_t byte)
{
    SPDR = byte;
    while (!(SPSR & 1 << SPIF))
        ;
    return SPDR;
}
int main(void)
{
    DDRB = 7;
    SPCR = 1 << SPE | 1 << MSTR;
    SPSR = 1 << SPI2X;
    TCCR1B = 1;
    spi(0xF1), spi(0x02), spi(0x03);
    uint16_t start = TCNT1;
    result[1] = spi(0xF0);
    result[0] = TCNT1 - start;
    result[2] = spi(0);
    result[3] = spi(0);
    finish();
}
#elif defined CASE_spi_collision || defined CASE_spi_mode
int main(void)
{
    DDRB = 7;
#ifdef CASE_spi_mode
    SPCR = 1 << SPE | 1 << MSTR | 1 << CPOL;
    SPDR = 1;
#else
    SPCR = 1 << SPE | 1 << MSTR;
    SPDR = 1;
    SPDR = 2;
#endif
    finish();
}
#elif defined CASE_level
int main(void)
{
    DDRB = 1 << 5;
    TCCR1A = 1 << COM1A1 | 3;
    TCCR1B = 1 << WGM12 | 1;
    OCR1A = 511;
    _delay_ms(30);
    convert(2, 1);
    _delay_ms(25);
    result[0] = convert(2, 1);
    OCR1A = 1023;
    _delay_ms(30);
    result[1] = convert(2, 1);
    TCCR1A = 3; /* the pin's own bit is 0 */
    _delay_ms(30);
    result[2] = convert(2, 1);
    finish();
}
#elif defined CASE_fast_converter
int main(void)
{
    ADMUX = 1 << 6 | 3;
    ADCSRA = 1 << ADEN | 1 << ADSC | 4;
    finish();
}
#elif defined CASE_idle
ISR(TIMER4_COMPA_vect)
{
    result[0]++;
}
int main(void)
{
    TCCR4B = 1 << WGM42 | 1 << CS41;
    OCR4A = 999;
    TIMSK4 = 1 << OCIE4A;
    sei();
    for (;;) {
        sleep_enable();
        sleep_cpu();
    }
}
#endif
