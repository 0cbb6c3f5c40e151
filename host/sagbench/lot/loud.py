"""Results for two metres' distance: large letters, and a tone of its own for each verdict.

SPDX-License-Identifier: MIT
"""

from __future__ import annotations

import atexit
import io
import math
import shutil
import struct
import subprocess
import sys
import tempfile
import wave
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path

from sagbench.record import Verdict

RATE = 22050  # samples a second
LOUD = 0.4  # of full scale
FADE_S = 0.005  # so that a tone does not click

# (hertz, seconds); 0 Hz is silence.  Told apart by rhythm as well as by pitch, for not every ear has both.
TONES: dict[Verdict, tuple[tuple[float, float], ...]] = {
    Verdict.SOUND: ((660, 0.10), (0, 0.03), (880, 0.20)),  # short, up
    Verdict.TIRED: ((660, 0.12), (0, 0.08), (660, 0.12)),  # twice the same
    Verdict.FAILED: ((330, 0.25), (0, 0.03), (220, 0.55)),  # long, down
    Verdict.UNSURE: ((440, 0.08), (0, 0.06), (440, 0.08), (0, 0.06), (440, 0.08)),  # three short
    Verdict.INCOMPLETE: ((220, 0.08), (0, 0.05), (220, 0.08), (0, 0.05), (220, 0.08), (0, 0.05), (220, 0.08)),  # four low
}
BELLS = {Verdict.SOUND: 1, Verdict.TIRED: 2, Verdict.FAILED: 3, Verdict.UNSURE: 4, Verdict.INCOMPLETE: 5}
PLAYERS = (("pw-play",), ("paplay",), ("aplay", "-q"), ("afplay",))


@cache
def letters(text: str, width: int) -> Sequence[str]:
    """The text in large letters of plain characters; as it is where the terminal is too narrow."""
    from pyfiglet import Figlet

    for font in ("banner3", "banner", "standard"):
        lines = [line.rstrip() for line in Figlet(font=font, width=1000).renderText(text.upper()).splitlines()]
        lines = [line for line in lines if line]
        if max(map(len, lines), default=0) <= width:
            return lines
    return [text.upper()]


@cache
def sound(verdict: Verdict) -> bytes:
    """The verdict's tones as a WAV file, 16 bit, one channel."""
    samples: list[float] = []
    for hertz, seconds in TONES[verdict]:
        count = round(seconds * RATE)
        for n in range(count):
            fade = min(1.0, n / (FADE_S * RATE), (count - n) / (FADE_S * RATE))
            samples.append(LOUD * fade * math.sin(2 * math.pi * hertz * n / RATE))
    held = io.BytesIO()
    with wave.open(held, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes(b"".join(struct.pack("<h", round(32767 * x)) for x in samples))
    return held.getvalue()


@cache
def _folder() -> Path:
    """A folder of this program's own for the sounds; goes with it."""
    made = tempfile.mkdtemp(prefix="sagbench-")
    atexit.register(shutil.rmtree, made, ignore_errors=True)
    return Path(made)


def ring(times: int) -> None:
    """The terminal's bell."""
    sys.stderr.write("\a" * times)
    sys.stderr.flush()


def play(verdict: Verdict, bell: Callable[[int], None] = ring) -> None:
    """Sound the verdict without waiting for its end; where nothing can play, ring the bell so many times."""
    player = next((words for words in PLAYERS if shutil.which(words[0])), None)
    if player is None:
        bell(BELLS[verdict])
        return
    try:
        path = _folder() / f"{verdict.name.lower()}.wav"
        if not path.exists():
            path.write_bytes(sound(verdict))
        subprocess.Popen([*player, str(path)], stdin=subprocess.DEVNULL, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    except OSError:
        return  # a result without its sound is a result
