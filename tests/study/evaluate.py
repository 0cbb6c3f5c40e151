"""What the lines of a study say: coverage of U, errors against the truth, the confusion table.

    coverage(cases)     # stage -> quantity -> Coverage
    errors(cases)       # name of a figure -> error that 95.45 % of all keep
    worth(cases)        # Worth: how the verdicts stand to the truth

SPDX-License-Identifier: MIT
"""
from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import sqrt
from typing import Any

GROUPS = {"VOL": ("VOL",), "VOH": ("VOH",), "ICC": ("ICC",), "IIL": ("IIL",), "IIH": ("IIH",),
          "output resistance": ("ROL", "ROH"), "threshold": ("VT+", "VT-"), "hysteresis": ("VH",), "IOS": ("IOS",), "VIK": ("VIK",),
          "CMOS current": ()}
GROUP_OF = {name: group for group, names in GROUPS.items() for name in names}
CMOS = re.compile(r"4\d|74A?CT?\d|74HCT?\d")
K2 = 0.9545                    # what k = 2 stands for in a normal distribution
LIKE_THE_QUAD_GATE_A, FROM_A = 34e-3, 10e-3      # ICC errors are brought to 34 mA, from chips that draw 10 mA or more


@dataclass
class Coverage:
    """How many true values lie inside U, and how far the errors are spread in standard uncertainties."""

    measurements: int
    fixtures: int
    percent: float
    error_of_percent: float        # standard error; figures of one fixture count as one draw
    mean: float                    # of (value - truth) / u
    sd: float


def covered(rows_by_fixture: dict[int, list[tuple[float, float, float]]]) -> Coverage:
    """From (value, U, truth) by fixture."""
    z = {k: [(v - t) / (u / 2) for v, u, t in rows] for k, rows in rows_by_fixture.items() if rows}
    every = [one for some in z.values() for one in some]
    n = len(every)
    inside = {k: sum(abs(one) <= 2 for one in some) for k, some in z.items()}
    share = sum(inside.values()) / n
    spread = sqrt(sum((inside[k] - share * len(z[k])) ** 2 for k in z)) / n
    mean = sum(every) / n
    return Coverage(n, len(z), 100 * share, 100 * spread, mean, sqrt(sum((one - mean) ** 2 for one in every) / n))


def coverage(cases: Iterable[dict[str, Any]]) -> dict[str, dict[str, Coverage]]:
    """By stage of calibration, then by quantity and "all"."""
    found: dict[str, dict[str, dict[int, list[tuple[float, float, float]]]]] = {}
    for case in cases:
        for stage, rows in case["stages"].items():
            for name, _, value, u, truth in rows:
                for group in (group_of(case["part"], name), "all"):
                    by = found.setdefault(stage, {}).setdefault(group, defaultdict(list))
                    by[case["fixture"]].append((value, u, truth))
    return {stage: {g: covered(groups[g]) for g in (*GROUPS, "all") if g in groups} for stage, groups in found.items()}


def group_of(part: str, name: str) -> str:
    """The quantity that a figure counts as: currents of CMOS chips, at rest and into inputs, are a quantity of their own.

    They are finer than what idle parts of the fixture may leak by their data book, which is nearly all of their U and is
    hardly ever reached: all of them lie within, and would hide what is wrong with those of bipolar chips.
    """
    return "CMOS current" if name in ("ICC", "IIL", "IIH") and CMOS.match(part) else GROUP_OF[name]


def within(errors_seen: Sequence[float]) -> float:
    """What the share K2 of all errors does not exceed."""
    ranked = sorted(map(abs, errors_seen))
    return ranked[min(len(ranked) - 1, int(K2 * len(ranked)))]


def errors(cases: Iterable[dict[str, Any]], stage: str = "external") -> dict[str, float]:
    """Errors against the truth that K2 of all keep, at one stage: mV, mA at 34 mA, uA, ohm."""
    seen: dict[str, list[float]] = defaultdict(list)
    for case in cases:
        for name, _, value, _, truth in case["stages"].get(stage, ()):
            off = value - truth
            if name in ("VOL", "VOH"):
                seen[f"{name.lower()}_error_mv_k2"].append(off * 1e3)
            elif name == "ICC" and truth >= FROM_A:
                seen["icc_error_ma_k2"].append(off / truth * LIKE_THE_QUAD_GATE_A * 1e3)
            elif name == "IIL":
                seen["iil_error_ua_k2"].append(off * 1e6)
            elif name in ("ROL", "ROH"):
                seen["rout_error_ohm_k2"].append(off)
    return {name: within(some) for name, some in sorted(seen.items())}


# ---------------------------------------------------------------------------------------- verdicts
NAMED = {                      # fault of a virtual chip -> what a diagnosis of it may begin with
    "stuck": ("stuck",), "dead": ("dead output stage",), "open": ("open bond wire",),
    "series": ("added series resistance",), "short": ("internal short",), "beta": ("sink transistor",),
    "weak_pull_up": ("weak pull-up",), "leak": ("leaking",), "threshold": ("shifted input threshold",),
    "excess_supply": ("excess supply current",), "reversed": ("not seated",), "shifted": ("not seated",),
    "remarked": ("wrong part", "remarked"), "wrong_part": ("wrong part",)}
LOGIC = ("logic", "function", "seating")
ACCEPTED, REJECTED = "sound", ("not sound", "not finished", "trouble")


@dataclass
class Worth:
    """Verdicts beside the truth; lists hold the indices of cases, to look at."""

    table: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))     # truth -> verdict -> count
    false_accepts: list[int] = field(default_factory=list)       # a limit broken by more than U, and called sound
    within_u: list[int] = field(default_factory=list)            # called sound, broken by less than U
    unmeasured: list[int] = field(default_factory=list)          # called sound, broken in what the report does not claim
    false_rejects: list[int] = field(default_factory=list)
    logic_only: list[int] = field(default_factory=list)          # bad chips that pass the logic test without load
    undiagnosed: list[int] = field(default_factory=list)
    diagnosed: int = 0
    family_wrong: list[int] = field(default_factory=list)
    family_right: int = 0
    functions: set[str] = field(default_factory=set)
    families: set[str] = field(default_factory=set)
    kinds: dict[str, Counter[str]] = field(default_factory=lambda: defaultdict(Counter))     # fault -> verdict or "harmless"

    @property
    def sound(self) -> int:
        return sum(self.table["sound"].values())

    @property
    def bad(self) -> int:
        return sum(self.table["bad"].values())

    def figures(self) -> dict[str, tuple[float, str]]:
        """Names as `make figures` prints them."""
        named, families = self.diagnosed + len(self.undiagnosed), self.family_right + len(self.family_wrong)
        shares = {"false_rejects_percent": (len(self.false_rejects), self.sound),
                  "logic_only_missed_percent": (len(self.logic_only), self.bad),
                  "missed_percent": (len(self.false_accepts) + len(self.within_u) + len(self.unmeasured), self.bad),
                  "diagnosis_top2_percent": (self.diagnosed, named), "family_right_percent": (self.family_right, families)}
        return {"study_chips": (self.sound + self.bad + sum(self.table["harmless fault"].values()), "chips"),
                "study_functions": (len(self.functions), "functions"), "study_families": (len(self.families), "families"),
                "false_accepts": (len(self.false_accepts), "chips")} | {
                    name: (100 * part / whole, "%") for name, (part, whole) in shares.items() if whole}

    def plain(self) -> dict[str, Any]:
        """As JSON can hold it."""
        return {name: {k: dict(v) for k, v in value.items()} if isinstance(value, dict) else
                sorted(value) if isinstance(value, set) else value for name, value in vars(self).items()}


def kind_of(description: dict[str, Any]) -> str:
    """The fault, by the population's names; "sound" if there is none."""
    if description.get("fault"):
        return str(description["fault"][0]["kind"])
    if "marking" not in description or description["marking"] == description["part"]:
        return "sound"
    return "remarked" if function(description["part"]) == function(description["marking"]) else "wrong_part"


def function(name: str) -> str:
    """The number without grade and family: "74LS00" -> "00", "4011" -> "4011"."""
    return name[2:].lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ") if name.startswith("74") else name


def family(name: str) -> str:
    """"74LS00" -> "LS", "7400" -> "TTL", "4011" -> "4000"."""
    if not name.startswith("74"):
        return "4000"
    return name[2:].rstrip("0123456789") or "TTL"


def truth_of(case: dict[str, Any]) -> str:
    """sound, harmless fault (something is there, and breaks no limit) or bad."""
    if not case["truth"]["sound"]:
        return "bad"
    return "sound" if kind_of(case["description"]) == "sound" else "harmless fault"


def accepted_why(case: dict[str, Any]) -> str:
    """Why a bad chip was called sound: "beyond" U, "within" U of what was measured, or "unmeasured"."""
    findings: dict[tuple[str, int | None], list[float]] = defaultdict(list)
    for quantity, pin, _, value, u, _ in case["host"]["findings"]:
        if value is not None:
            findings[quantity, pin].append(u)
    words = set()
    for broken in case["truth"]["violations"]:
        name = broken["quantity"]
        if name in LOGIC:
            return "beyond"
        uncertain = findings.get((name.split()[0], broken.get("number") or None))
        if not uncertain:
            words.add("unmeasured")
        elif broken["value"] is None or abs(broken["value"] - broken["limit"]) > max(uncertain):
            return "beyond"
        else:
            words.add("within")
    return "within" if "within" in words else "unmeasured"


def silicon(case: dict[str, Any]) -> str:
    """The family the die is of, by the host's names."""
    name = family(case["description"]["part"])
    return {"TTL": "74", "4000": "4000B"}.get(name, name)


def worth(cases: Iterable[dict[str, Any]]) -> Worth:
    """How the verdicts stand to the truth."""
    out = Worth()
    for case in cases:
        index, host = case["index"], case.get("host")
        truth, kind = truth_of(case), kind_of(case["description"])
        trouble = case.get("trouble", "")
        said = ("not in the library" if "NotInFamily" in trouble else "trouble") if trouble or not host else host["verdict"]
        out.table[truth][said] += 1
        out.functions.add(function(case["description"]["part"]))
        out.families.add(family(case["description"]["part"]))
        out.kinds[kind][said if truth != "harmless fault" else "harmless"] += 1
        if truth == "sound" and said in REJECTED:
            out.false_rejects.append(index)
        if truth == "bad":
            if host and host["logic_passed"]:
                out.logic_only.append(index)
            if said == ACCEPTED:
                {"beyond": out.false_accepts, "within": out.within_u, "unmeasured": out.unmeasured}[
                    accepted_why(case)].append(index)
            if said in ("not sound", "not finished") and kind in NAMED:
                told = [d[0] for d in host["diagnoses"][:2]]
                if any(t.startswith(NAMED[kind]) for t in told):
                    out.diagnosed += 1
                else:
                    out.undiagnosed.append(index)
        if host and host["families"] and kind in ("sound", "remarked"):
            if host["families"][0][0] == silicon(case):
                out.family_right += 1
            else:
                out.family_wrong.append(index)
    return out
