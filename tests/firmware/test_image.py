from virtual_fixture.bench import Bench
from .host import Host, step, mask
from .line import Image


def test_avr():
    with Bench(chip=None, seed=3) as bench:
        host = Host(Image(bench))
        print(host.state())
        done = host.run(step("reference", reference="avcc"), step("sense", position=7, load=0, ld="off"),
                        step("read", source="k", repeats=4), step("scan", mask=mask(1, 7, 24), repeats=1))
        print(done.readings, done.events, done.done)
        done = host.run(*[step("scan", mask=0xFFFFFF, repeats=1) for _ in range(20)])
        print(done.done, done.done.elapsed_us / done.done.conversions / 104)
        done = host.run(step("power_on", supply=24, supply_2=0, ground=7, limit=500), step("verify", position=3), step("power_off"))
        print(done.readings, done.events, done.done)
        print(host.state())
        print(bench.violations)
