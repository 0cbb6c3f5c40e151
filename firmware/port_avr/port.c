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
    for (uint8_t i = 0; i < HAL_CHAIN; i++)
        back[i] = spi(bytes[i]);
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
static uint8_t rx_out;
static volatile bool rx_error;
static volatile uint8_t tx_ring[128], tx_in;     /* volatile: stored before the interrupt is let in */
static volatile uint8_t tx_out;

#define TX_NEXT(at) ((uint8_t)(((at) + 1) & 127))

ISR(USART0_RX_vect)
{
    uint8_t status = UCSR0A;
    rx_ring[rx_in] = UDR0;
    uint8_t next = (uint8_t)(rx_in + 1);
    if ((status & (BIT(FE0) | BIT(DOR0))) || next == rx_out)
        rx_error = true;
    if (next != rx_out)
        rx_in = next;
}

ISR(USART0_UDRE_vect)
{
    if (tx_out == tx_in) {
        UCSR0B &= (uint8_t)~BIT(UDRIE0);
        return;
    }
    UDR0 = tx_ring[tx_out];
    tx_out = TX_NEXT(tx_out);
}

int16_t hal_uart_get(void)
{
    if (rx_out == rx_in)
        return -1;
    return rx_ring[rx_out++];
}

uint8_t hal_uart_room(void)
{
    return (uint8_t)((tx_out - tx_in - 1) & 127);
}

void hal_uart_put(uint8_t byte)
{
    tx_ring[tx_in] = byte;
    tx_in = TX_NEXT(tx_in);
    UCSR0B |= BIT(UDRIE0);
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
    OCR1A = duty;
    if (duty) {
        TCCR1A |= BIT(COM1A1);
    } else {
        /* Fast PWM with 0 still gives a spike: let go of the pin instead. */
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
    wdt_enable(WDTO_60MS);
    _Static_assert(WIRING_WATCHDOG_MS == 60, "WDTO_60MS");
    sei();
}
