# SPDX-License-Identifier: MIT
"""--guard, --risk, --like, what `report` must not overwrite, and a sweep that is told to end."""
import os
import signal
from dataclasses import replace

import pytest

from host.cli.test_cli_sweep import bench  # noqa: F401  (a fixture)
from host.report import examples
from sagbench.cli import interrupts
from sagbench.cli.main import main
from sagbench.judge.rule import Rule
from sagbench.record import Outcome, Verdict
from sagbench.report.codec import from_json, to_json


@pytest.fixture
def kept(tmp_path):
    """A function that keeps a record in a file and gives its name."""
    def keep(record, name="chip.json"):
        file = tmp_path / name
        file.write_text(to_json(replace(record, rule=Rule().record())), encoding="utf-8")
        return str(file)
    return keep


def test_a_record_is_judged_again_by_another_guard_band(kept, capsys):
    file = kept(examples.sound_inverter())
    assert main(["report", file]) == 0 and "guard band w = U" in capsys.readouterr().out
    assert main(["report", file, "--guard", "8"]) == 4
    out = capsys.readouterr().out
    assert "CANNOT TELL" in out and "guard band w = 8 U" in out


def test_a_sweep_is_judged_by_the_guard_band_asked_for_and_its_file_says_so(bench, tmp_path):  # noqa: F811
    file = tmp_path / "r.json"
    assert main(["sweep", "74LS04", "--guard", "8", "--json", str(file)]) == 4
    record = from_json(file.read_text())
    assert record.rule.guard == 8 and record.verdict is Verdict.UNSURE


@pytest.mark.parametrize("word", ["-1", "11", "much", "nan"])
def test_a_guard_band_that_is_none_is_refused_before_the_fixture_is_touched(bench, capsys, word):  # noqa: F811
    with pytest.raises(SystemExit) as ended:
        main(["sweep", "74LS04", f"--guard={word}"])
    assert ended.value.code == 2 and "is no guard band; give a number" in capsys.readouterr().err
    assert bench.Device.ports == []


def test_the_risk_is_told_on_demand_only_and_on_the_page_too(kept, tmp_path, capsys):
    file, page = kept(examples.weak_gate()), tmp_path / "page.html"
    main(["report", file])
    assert "wrong with" not in capsys.readouterr().out
    main(["report", file, "--risk", "--html", str(page)])
    out = capsys.readouterr().out
    assert "Probability that all figures found beyond" in out and "(83 % met)" in out
    assert "Probability that all figures found beyond" in page.read_text(encoding="utf-8")


@pytest.mark.parametrize("how", ["same", "around", "link", "hard link"])
def test_the_page_is_never_written_over_the_record(kept, tmp_path, capsys, how):
    file = kept(examples.sound_inverter())
    before = open(file, encoding="utf-8").read()
    target = {"same": file, "around": f"{tmp_path}/../{tmp_path.name}/chip.json"}.get(how, str(tmp_path / "other"))
    if how == "link":
        os.symlink(file, target)
    elif how == "hard link":
        os.link(file, target)
    assert main(["report", file, "--html", target]) == 2
    assert "the record itself" in capsys.readouterr().err and open(file, encoding="utf-8").read() == before


def test_a_sweep_told_to_end_by_sigterm_ends_like_ctrl_c(bench, monkeypatch, capsys):  # noqa: F811
    import sys
    heard = signal.getsignal(signal.SIGTERM)

    def sweep(device, part, *, marking="", progress=None, options=None):
        os.kill(os.getpid(), signal.SIGTERM)
        raise AssertionError("it went on")
    monkeypatch.setattr(sys.modules["sagbench.sweep"], "sweep", sweep)
    assert main(["sweep", "74LS04"]) == 130
    assert "interrupted" in capsys.readouterr().err
    assert bench.Device.opened == bench.Device.closed == 1
    assert signal.getsignal(signal.SIGTERM) is heard


def test_sigterm_waits_until_modules_are_loaded():
    went_on = []
    with interrupts.terminable(), pytest.raises(KeyboardInterrupt):
        with interrupts.held():
            os.kill(os.getpid(), signal.SIGTERM)
            went_on.append(True)
    assert went_on == [True]


# ------------------------------------------------------------------ beside one's own specimens
def specimens(kept, count):
    """Sound inverters whose supply current differs by some percent."""
    made = []
    for index in range(count):
        record = examples.sound_inverter()
        value = record.supply[1].value
        low = replace(record.supply[1], value=replace(value, value=value.value * (1 + 0.02 * (index % 3)), u=1e-5))
        made.append(kept(replace(record, supply=(record.supply[0], low)), f"own{index}.json"))
    return made


def hungry():
    record = examples.sound_inverter()
    low = replace(record.supply[1], value=replace(record.supply[1].value, value=0.0061, u=1e-5))
    return replace(record, supply=(record.supply[0], low))


def test_a_chip_unlike_ones_own_sound_specimens_is_out_of_character(bench, kept, capsys):  # noqa: F811
    own = specimens(kept, 5)
    assert main(["sweep", "74LS04", "--like", *own]) == 0, capsys.readouterr().out
    bench.result = hungry()
    assert main(["sweep", "74LS04"]) == 0
    assert main(["sweep", "74LS04", "--like", *own]) == 1
    out = capsys.readouterr().out
    assert "ABOUT TO GO" in out and "the 5 sound specimens of your own" in out


def test_too_few_specimens_or_those_of_another_part_are_said_to_be_of_no_use(bench, kept, capsys):  # noqa: F811
    bench.result = hungry()
    assert main(["sweep", "74LS04", "--like", *specimens(kept, 4), kept(examples.weak_gate(), "other.json")]) == 0
    assert "4 of the 5 records given are of a sound 74LS04" in " ".join(capsys.readouterr().out.split())


def test_a_specimen_file_that_is_none_is_found_before_the_fixture_is_touched(bench, tmp_path, capsys):  # noqa: F811
    (tmp_path / "x.json").write_text("{}")
    assert main(["sweep", "74LS04", "--like", str(tmp_path / "x.json")]) == 2
    assert "is not a sweep record" in capsys.readouterr().err and bench.Device.ports == []


def test_figures_are_compared_robustly():
    from sagbench.judge import character
    records = [examples.sound_inverter() for _ in range(6)]
    wild = replace(records[0], supply=(replace(records[0].supply[0], value=replace(records[0].supply[0].value, value=1.0)),))
    norm = character.norms([*records, wild])["ICC", 0, "outputs high"]
    assert norm.middle == records[0].supply[0].value.value and norm.spread == 0 and norm.count == 7
    finding = next(f for f in character.compare(hungry(), character.norms(records)).reasons)
    assert finding.outcome is Outcome.ODD and finding.typical == pytest.approx(0.00391)
