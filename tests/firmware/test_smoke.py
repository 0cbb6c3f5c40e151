from .host import Host, step, mask
from .world import World


def test_hello_and_a_pass():
    world = World(unpowered={7: (1.0, 1000)})
    host = Host(world)
    print(host.state())
    done = host.run(step("reference", reference="avcc"), step("sense", position=7, load=0, ld="off"),
                    step("read", source="k", repeats=4), step("scan", mask=mask(1, 7, 24), repeats=1))
    print(done.readings, done.events, done.done)
    assert done.status == "complete"
    done = host.run(*[step("scan", mask=0xFFFFFF, repeats=1) for _ in range(20)])
    print(done.done, done.done.elapsed_us / done.done.conversions / 104)
