"""Whatever comes in: nothing breaks (under the sanitizers in `make -C firmware test`), nothing comes on, hello is answered."""
from __future__ import annotations

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from .host import MESSAGES, SPEC, Host, frame
from .world import World

IDS = sorted(m.id for m in MESSAGES.values())
NOISE = st.binary(max_size=300)
FRAMES = st.builds(frame, st.integers(0, 255), st.integers(0, 255), st.integers(0, 255),
                   st.sampled_from(IDS) | st.integers(0, 255), st.binary(max_size=96))
# Steps in order, so that they are taken: codes and arguments at random.
STEPS = st.lists(st.builds(lambda code, rest: bytes([code]) + rest, st.integers(0, len(SPEC.steps)), st.binary(max_size=13)), max_size=12)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(NOISE | FRAMES, max_size=12))
def test_any_bytes(pieces: list[bytes]) -> None:
    world = World()
    host = Host(world)
    for piece in pieces:
        host.put(piece)
        world.run(3000)
        world.sent.clear()
    host.put(b"\0")
    world.run(20_000)
    assert not world.powered and not world.hurt
    world.sent.clear()
    host.at = 0
    host.hello(0x55AA)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(STEPS)
def test_any_steps(steps: list[bytes]) -> None:
    """A pass of anything ends, or is halted; strong lines drove only where verified or under load; the watchdog was fed."""
    world = World(chip={3: (2.0, 5000.0), 9: (0.2, 20.0)})
    host = Host(world)
    host.begin(steps)
    for _ in range(40):
        host.turn(2000)
        if any(m.name == "pass_done" for m in host.taken):
            break
    host.control("halt")
    host.wait("state")
    host.finish()
    assert not world.powered and not world.hurt
    assert world.lib.port_pc_watchdog_gap_ns() < 3_000_000
    world.run(10_000)
    assert not world.lines()
