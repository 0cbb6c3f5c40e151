/* SPDX-License-Identifier: MIT */
/* ATmega2560 at 16 MHz: ports, registers, clock, serial port, EEPROM, watchdog.
 *
 * Timer 1 is the level drive (OC1A), timer 4 the clock: 0.5 us a count, a tick. */
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <stdbool.h>
#include <util/delay.h>

#include "gen/protocol.h"
#include "gen/wiring.h"
#include "hal/clock.h"
#include "hal/device.h"
#include "hal/ports.h"
#include "hal/registers.h"
#include "hal/uart.h"
#include "port_avr/port_avr.h"

#define BIT(number) ((uint8_t)(1U << (number)))
#define TICK_US 500            /* sleep is left this often, for the pump */

_Static_assert(F_CPU == WIRING_CLOCK_HZ, "the clock of the board");
_Static_assert(HAL_PORTS == WIRING_PORTS, "A to L");

/* -------------------------------------------------------------------- ports */


static volatile uint8_t *const ports[HAL_PORTS] = {&PINA, &PINB, &PINC, &PIND, &PINE, &PINF,
                                                   &PING, &PINH, &PINJ, &PINK, &PINL};

void hal_port_ddr(uint8_t port, uint8_t mask, uint8_t value)
{
    volatile uint8_t *at = ports[port] + 1;
    *at = (uint8_t)((*at & (uint8_t)~mask) | (value & mask));
}

void hal_port_out(uint8_t port, uint8_t mask, uint8_t value)
{
    volatile uint8_t *at = ports[port] + 2;
    *at = (uint8_t)((*at & (uint8_t)~mask) | (value & mask));
}

uint8_t hal_port_get(uint8_t port)
{
    /* The pin synchroniser: what was written is seen two clocks later. */
    __asm__ __volatile__("nop\n\tnop");
    return *ports[port];
}

/* A one written to PINx turns the bit of PORTx over (data sheet, "Toggling the Pin"). */
void hal_edge_toggle(const struct hal_edge *edge)
{
    *ports[edge->port[0]] = edge->mask[0];
    *ports[edge->port[1]] = edge->mask[1];
}

/* From the second store to the first look: 7 - phase nops are skipped.  Each look takes HAL_LOOK_CLOCKS,
 * the one that ends the first loop too: ld 2, eor, and, brne 1 (taken 2), dec, brne 2. */
static __attribute__((noinline)) uint8_t edge_look(const volatile uint8_t *in, uint8_t mask, uint8_t rest, uint8_t skip,
                                                   volatile uint8_t *first, uint8_t first_mask,
                                                   volatile uint8_t *second, uint8_t second_mask)
{
    uint8_t left = HAL_LOOK_BEGIN, seen;
    uint16_t slide;
    __asm__ __volatile__(
        "ldi %A[slide], pm_lo8(1f)\n\t"
        "ldi %B[slide], pm_hi8(1f)\n\t"
        "add %A[slide], %[skip]\n\t"
        "adc %B[slide], __zero_reg__\n\t"
        "st X, %[first_mask]\n\t"
        "st Y, %[second_mask]\n\t"
        "ijmp\n"
        "1:\n\t"
        "nop\n\tnop\n\tnop\n\tnop\n\tnop\n\tnop\n\tnop\n\t"
        "movw r30, %[in]\n"
        "2:\n\t"
        "ld %[seen], Z\n\t"
        "eor %[seen], %[rest]\n\t"
        "and %[seen], %[mask]\n\t"
        "brne 3f\n\t"
        "dec %[left]\n\t"
        "brne 2b\n\t"
        "rjmp 5f\n"
        "3:\n\t"
        "ldi %[left], %[most]\n\t"
        "nop\n"
        "4:\n\t"
        "ld %[seen], Z\n\t"
        "eor %[seen], %[rest]\n\t"
        "and %[seen], %[mask]\n\t"
        "breq 6f\n\t"
        "dec %[left]\n\t"
        "brne 4b\n\t"
        "rjmp 6f\n"
        "5:\n\t"
        "ldi %[left], %[none]\n"
        "6:\n"
        : [left] "+d"(left), [seen] "=&r"(seen), [slide] "=&z"(slide)
        : [in] "r"(in), [mask] "r"(mask), [rest] "r"(rest), [skip] "r"(skip), [first_mask] "r"(first_mask),
          [second_mask] "r"(second_mask), [most] "M"(HAL_LOOK_MOST), [none] "M"(HAL_LOOK_MOST + 1), "x"(first), "y"(second)
        : "memory");
    return (uint8_t)(HAL_LOOK_MOST + 1 - left);
}

uint8_t hal_edge_look(const struct hal_edge *edge, uint8_t phase, uint8_t again)
{
    uint8_t sreg = SREG;
    cli();
    if (again) {
        hal_edge_toggle(edge);
        _delay_loop_2((uint16_t)(again - 2));      /* 4 clocks each; 2 for what is around */
        hal_edge_toggle(edge);
        _delay_loop_2((uint16_t)(again - 2));
    }
    uint8_t looks = edge_look(ports[edge->in_port], edge->in_mask, edge->rest, (uint8_t)(HAL_LOOK_CLOCKS - 1 - phase),
                              ports[edge->port[0]], edge->mask[0], ports[edge->port[1]], edge->mask[1]);
    SREG = sreg;
    return looks;
}

/* ---------------------------------------------------------------- registers */

static uint8_t spi(uint8_t byte)
{
    SPDR = byte;
    while (!(SPSR & BIT(SPIF)))
        ;
    return SPDR;
}

void hal_shift(const uint8_t bytes[HAL_CHAIN], uint8_t back[HAL_CHAIN])
{
    back[0] = spi(bytes[0]);
    back[1] = spi(bytes[1]);
    back[2] = spi(bytes[2]);
    _Static_assert(HAL_CHAIN == 3, "three");
}

void hal_latch(void)
{
    PORTB |= BIT(WIRING_LATCH_BIT);
    PORTB &= (uint8_t)~BIT(WIRING_LATCH_BIT);
}

static void registers_start(void)
{
    _Static_assert(WIRING_LATCH_PORT == 1 && WIRING_LATCH_BIT == 0, "PB0 is SS: an output keeps the SPI master");
    _Static_assert(WIRING_SER_OUT_BIT == 2 && WIRING_SER_CLK_BIT == 1 && WIRING_SER_BACK_BIT == 3, "SPI pins");
    PORTB &= (uint8_t)~(BIT(WIRING_LATCH_BIT) | BIT(WIRING_SER_OUT_BIT) | BIT(WIRING_SER_CLK_BIT));
    DDRB |= BIT(WIRING_LATCH_BIT) | BIT(WIRING_SER_OUT_BIT) | BIT(WIRING_SER_CLK_BIT);
    SPCR = BIT(SPE) | BIT(MSTR);         /* mode 0, highest bit first */
    SPSR = BIT(SPI2X);                   /* 8 MHz */
}

/* -------------------------------------------------------------------- clock */

static volatile uint16_t clock_high;

ISR(TIMER4_OVF_vect)
{
    clock_high++;
}

/* Only to leave sleep. */
ISR(TIMER4_COMPA_vect)
{
    OCR4A += TICK_US * 2;
}

uint32_t hal_ticks(void)
{
    uint8_t sreg = SREG;
    cli();
    uint16_t low = TCNT4;
    uint16_t high = clock_high;
    if ((TIFR4 & BIT(TOV4)) && low < 0x8000)
        high++;
    SREG = sreg;
    return ((uint32_t)high << 16) | low;
}

void hal_wait_us(uint8_t us)
{
    for (; us; us--)
        _delay_loop_1(4);                /* 12 clocks and the loop */
}

static void clock_start(void)
{
    TCCR4A = 0;
    TCCR4B = BIT(CS41);                  /* / 8 */
    OCR4A = TICK_US * 2;
    TIMSK4 = BIT(TOIE4) | BIT(OCIE4A);
}

/* -------------------------------------------------------------- serial port */

static volatile uint8_t rx_ring[256], rx_in;
static volatile uint8_t rx_out;
static volatile bool rx_error;
#define TX_MASK 127

static volatile uint8_t tx_ring[TX_MASK + 1], tx_in;     /* volatile: stored before the interrupt is let in */
static volatile uint8_t tx_out;

ISR(USART0_RX_vect)
{
    uint8_t at = rx_in;
    if (UCSR0A & (BIT(FE0) | BIT(DOR0)))
        rx_error = true;
    rx_ring[at++] = UDR0;
    if (at == rx_out)
        rx_error = true;       /* full: this byte is lost */
    else
        rx_in = at;
}

ISR(USART0_UDRE_vect)
{
    uint8_t at = tx_out;
    if (at == tx_in) {
        UCSR0B &= (uint8_t)~BIT(UDRIE0);
        return;
    }
    UDR0 = tx_ring[at];
    tx_out = (uint8_t)((at + 1) & TX_MASK);
}

uint8_t hal_uart_get(uint8_t *to, uint8_t most)
{
    uint8_t at = rx_out, count = (uint8_t)(rx_in - at);
    if (count > most)
        count = most;
    for (uint8_t i = count; i; i--)
        *to++ = rx_ring[at++];
    rx_out = at;
    return count;
}

uint8_t hal_uart_put(const uint8_t *bytes, uint8_t count)
{
    uint8_t at = tx_in, room = (uint8_t)((tx_out - at - 1) & TX_MASK);
    if (count > room)
        count = room;
    for (uint8_t i = count; i; i--) {
        tx_ring[at] = *bytes++;
        at = (uint8_t)((at + 1) & TX_MASK);
    }
    tx_in = at;
    if (count)
        UCSR0B |= BIT(UDRIE0);
    return count;
}

bool hal_uart_error(void)
{
    bool error = rx_error;
    if (error)
        rx_error = false;
    return error;
}

static void uart_start(void)
{
    UBRR0 = (uint16_t)(F_CPU / 8 / PROTOCOL_BAUD - 1);
    _Static_assert(F_CPU % (8 * PROTOCOL_BAUD) == 0, "the baud rate is exact");
    UCSR0A = BIT(U2X0);
    UCSR0C = BIT(UCSZ01) | BIT(UCSZ00);
    UCSR0B = BIT(RXEN0) | BIT(TXEN0) | BIT(RXCIE0);
}

/* ------------------------------------------------------------------- device */

#define SERIAL_AT 0            /* in EEPROM, 4 bytes, lowest first */

void hal_pwm(uint16_t duty)
{
    /* Fast PWM is high for a count more than OCR1A says (data sheet, "Fast PWM Mode"); none at all
     * only if the pin is let go. */
    if (duty) {
        OCR1A = duty - 1;
        TCCR1A |= BIT(COM1A1);
    } else {
        TCCR1A &= (uint8_t)~BIT(COM1A1);
    }
}

static void pwm_start(void)
{
    _Static_assert(WIRING_PWM_PORT == 1 && WIRING_PWM_BIT == 5, "OC1A");
    PORTB &= (uint8_t)~BIT(WIRING_PWM_BIT);
    DDRB |= BIT(WIRING_PWM_BIT);
    TCCR1A = BIT(WGM11) | BIT(WGM10);    /* fast PWM, 10 bit, 15.6 kHz */
    TCCR1B = BIT(WGM12) | BIT(CS10);
}

uint32_t hal_serial_get(void)
{
    return eeprom_read_dword((const uint32_t *)SERIAL_AT);
}

uint8_t hal_serial_put(uint8_t index, uint8_t byte)
{
    if (!eeprom_is_ready())
        return 0;
    eeprom_update_byte((uint8_t *)(uintptr_t)(SERIAL_AT + index), byte);
    return 1;
}

void hal_watchdog(void)
{
    wdt_reset();
}

void hal_idle(void)
{
    cli();
    if (rx_out == rx_in) {
        sleep_enable();
        sei();
        sleep_cpu();
        sleep_disable();
    }
    sei();
}

void port_avr_start(void)
{
    clock_start();
    uart_start();
    registers_start();
    pwm_start();
    port_avr_adc_start();
    SMCR = 0;                            /* idle: timers, converter and serial port go on */
    /* "60 ms" are 64 by its oscillator's nominal 128 kHz, so the step below: 32 ms, give or take a few.
     * The main loop feeds it each 0.4 ms, and no turn takes longer than some. */
    wdt_enable(WDTO_30MS);
    _Static_assert(WIRING_WATCHDOG_MS > 32 * 5 / 4 && WIRING_WATCHDOG_MS < 64, "WDTO_30MS");
    sei();
}
