"""What libsimavr 1.6 does differently from the silicon is cured, and what must not happen is noticed.

Figures of the silicon: ATmega2560 data sheet (converter timing table; USART frame; reading a
programmed pin value: one nop; register reset values).

SPDX-License-Identifier: GPL-3.0-or-later
"""
import time

import pytest

from virtual_fixture.bench import Bench, Pace, PlainChip

from .hands import PIN_OF
from .images import image, symbols

TIMED_OUT = "the program did not finish"


class Probe:
    """A bench that runs one of the small programs."""

    def __init__(self, case: str, chip: object = None, **options: object) -> None:
        self.symbols = symbols(case)
        self.bench = Bench(chip, 1, "avr", image=image(case), nominal=True, **options)  # type: ignore[arg-type]

    def finish(self, limit_s: float = 0.5) -> list[int]:
        """Run until the program says done; its results."""
        assert self.bench.run_until(lambda: self.bench.peek(self.symbols["done"]) == 1, limit_s), TIMED_OUT
        return self.result

    @property
    def result(self) -> list[int]:
        at = self.symbols["result"]
        return [self.bench.peek(at + 2 * n) | self.bench.peek(at + 2 * n + 1) << 8 for n in range(64)]

    @property
    def whats(self) -> list[str]:
        return [v.what for v in self.bench.violations]


def test_all_sixteen_converter_channels() -> None:
    probe = Probe("channels")
    result = probe.finish()
    assert [c > 500 for c in result[8:16]] == [False, True] * 4
    assert result[3] == pytest.approx(512, abs=3)     # the 2.5 V reference against 5 V
    assert probe.whats == []


def test_conversion_takes_13_clocks_and_25_the_first_time() -> None:
    first, second, third = Probe("conversion_time").finish()[:3]
    assert 25 * 128 <= first < 25 * 128 + 80
    assert 13 * 128 <= second < 13 * 128 + 80
    assert abs(third - second) < 20


def test_the_sample_is_taken_one_and_a_half_clocks_after_the_start() -> None:
    before, after = Probe("sample_moment").finish()[:2]
    assert before > 1000 and after < 20


def test_pin_read_before_its_synchroniser_is_noticed() -> None:
    probe = Probe("pin_too_soon")
    probe.finish()
    assert probe.whats == ["pin read before its synchroniser"]
    assert probe.bench.violations[0].where == "PINA"


def test_pin_read_in_time_is_right_and_silent() -> None:
    probe = Probe("pin_in_time")
    result = probe.finish()
    assert result[0] == 0x55 and result[1] & 1 == 1
    assert probe.whats == []


def test_pull_up_loses_against_4k7_and_a_floating_pin_reads_the_network() -> None:
    result = Probe("pull_up", PlainChip().resistor(24, 0, 4700)).finish()
    assert result[0] == 4     # PA0 held low by 4k7, PA2 pulled up
    assert result[1] == 0     # driven low, then let go
    assert result[2] == 4     # hi-Z, another line drives the position


def test_a_byte_takes_ten_bits_though_u2x_is_set_after_ubrr() -> None:
    [counts] = Probe("uart_pace").finish()[:1]
    assert counts * 8 == pytest.approx(50 * 10 * 32, rel=0.01)      # 32 cycles a bit


def test_a_wrong_baud_rate_is_noticed_once() -> None:
    probe = Probe("uart_baud")
    probe.bench.run(0.001)
    probe.bench.write(b"xyz")
    probe.bench.run(0.001)
    assert probe.whats == ["baud rate wrong"]


def test_bytes_come_back_at_the_pace_of_the_line() -> None:
    probe = Probe("uart_echo")
    probe.bench.run(0.001)
    data = bytes(range(200))
    probe.bench.write(data)
    probe.bench.run(0.0021)
    assert 80 < len(probe.bench.read()) < 110        # 20 us a byte
    probe.bench.run(0.0025)
    assert len(probe.bench.read()) > 80
    assert probe.whats == []


def test_echo_is_the_same_bytes() -> None:
    probe = Probe("uart_echo")
    probe.bench.run(0.001)
    probe.bench.write(bytes(range(256)))
    probe.bench.run(0.01)
    assert probe.bench.read() == bytes(range(256))


def test_a_deaf_receiver_overruns() -> None:
    probe = Probe("uart_deaf")
    probe.bench.run(0.001)
    probe.bench.write(bytes(100))
    probe.bench.run(0.01)
    assert set(probe.whats) == {"receiver overrun"}
    assert len(probe.whats) > 20


def test_interrupt_pins_that_are_low_cost_no_time() -> None:
    """Polling them made the simulator 40 times slower (processor time; three times is noise of a busy machine)."""
    walls = []
    for level in ("high", "low"):
        probe = Probe(f"interrupt_pins_{level}")
        probe.bench.run(0.01)
        start = time.process_time()
        probe.bench.run(0.5)
        walls.append(time.process_time() - start)
    assert walls[1] < 3 * walls[0]


def test_watchdog_reset_is_noticed_and_leaves_the_network_released() -> None:
    probe = Probe("watchdog", PlainChip().resistor(24, 0, 1000))
    probe.bench.run(0.02)
    assert probe.bench.node(24) > 3
    result = probe.finish()
    assert result[0] & 8 and result[1] == 0x5A and result[2] == 0
    assert probe.whats == ["unexpected reset"]
    assert probe.bench.node(24) < 0.01
    assert probe.bench.figures.resets == 1


def test_a_wanted_reset_is_no_violation() -> None:
    probe = Probe("watchdog")
    probe.bench.run(0.02)
    probe.bench.reset()
    probe.bench.run(0.001)
    assert probe.result[0] == 2 and probe.result[1] == 0x5A
    assert probe.whats == []


def test_a_hung_program_is_bitten_by_its_watchdog() -> None:
    probe = Probe("watchdog")
    probe.bench.run(0.01)
    probe.bench.spin()
    probe.bench.run(0.1)
    assert probe.result[0] & 8
    assert probe.whats == [] and probe.bench.figures.resets == 1


def test_a_crash_stops_and_is_noticed() -> None:
    probe = Probe("crash")
    probe.bench.run(0.01)
    assert probe.whats == ["program crashed"]
    assert "crashed" in probe.bench.trouble


def test_sleep_without_a_way_out_is_noticed() -> None:
    probe = Probe("sleep_for_ever")
    probe.bench.run(0.01)
    assert probe.whats == ["program slept for ever"]


def test_a_stack_that_runs_into_data_is_noticed() -> None:
    probe = Probe("stack")
    probe.bench.run(0.1)
    assert "stack ran into its reserve" in probe.whats


def test_register_bytes_take_eight_clocks_and_come_back() -> None:
    result = Probe("spi").finish()
    assert 16 <= result[0] < 48          # 8 bits of 2 cycles, and the loop
    assert result[1:4] == [0xF1, 0x02, 0x03]


@pytest.mark.parametrize(("case", "what"), [
    ("spi_collision", "shift register written while it shifts"),
    ("spi_mode", "shift register clocked in the wrong mode"),
    ("fast_converter", "converter clock out of 50..200 kHz")])
def test_peripherals_used_wrongly_are_noticed(case: str, what: str) -> None:
    probe = Probe(case)
    probe.finish()
    assert probe.whats == [what]


def test_pwm_becomes_the_level() -> None:
    half, whole, nothing = Probe("level").finish()[:3]
    assert half == pytest.approx(512, abs=4)
    assert whole > 1018 and nothing < 5


def test_a_frozen_clock_lets_the_dead_man_go_and_time_pass() -> None:
    probe = Probe("idle")
    probe.bench.run(0.01)
    cycles, before = probe.bench.cycles, probe.bench.now_s
    probe.bench.freeze(0.05)
    probe.bench.run(0.06)
    assert probe.bench.now_s - before == pytest.approx(0.06, abs=0.001)
    assert probe.bench.cycles - cycles == pytest.approx(0.01 * 16e6, rel=0.1)


def test_a_sleeping_device_keeps_to_the_wall_clock() -> None:
    probe = Probe("idle", pace=Pace.BUSY)
    start = time.perf_counter()
    probe.bench.serve(0.3)
    assert 0.02 < probe.bench.now_s < time.perf_counter() - start + 0.03     # slower where the machine is busy


def test_without_pace_a_sleeping_device_runs_ahead() -> None:
    probe = Probe("idle")
    start = time.perf_counter()
    probe.bench.run(20.0)
    assert time.perf_counter() - start < 15         # a second, where nothing else runs
    assert probe.result[0] == pytest.approx(40000, rel=0.01)


def test_wiring_and_simulator_agree_about_port_a() -> None:
    """The test programs above rely on it."""
    assert [PIN_OF[n] for n in ("M24", "S24", "M23", "S23")] == ["PA0", "PA1", "PA2", "PA3"]
    assert [PIN_OF[n] for n in ("M4", "S4", "M1", "S1")] == ["PK0", "PK1", "PK6", "PK7"]
