# SPDX-License-Identifier: MIT
"""A --port that is no serial port: one sentence of ours, without the words of the library below."""
import os

import pytest
import serial

from sagbench.cli.main import main


@pytest.mark.parametrize("make, said", [
    (lambda folder: folder, "is a folder, not a serial port; give the port"),
    (lambda folder: os.devnull, "is not a serial port; give the port"),
    (lambda folder: _file(folder / "plain"), "is not a serial port; give the port"),
    (lambda folder: folder / "none", "There is no port"),
])
def test_what_is_no_port_is_said_plainly(capsys, tmp_path, make, said):
    port = str(make(tmp_path))
    assert main(["fixture", "info", "--port", port]) == 3
    [line] = capsys.readouterr().err.splitlines()
    assert line.startswith("sagbench: ") and said in line and port in line
    assert not any(raw in line for raw in ("Errno", "could not", "Could not", "ioctl", "("))


def _file(path):
    path.write_text("no port")
    return path


@pytest.mark.parametrize("wrong, said", [
    (serial.SerialException(5, "could not open port x: [Errno 5]"), "Port x cannot be opened: input/output error; give"),
    (serial.SerialException("Could not configure port: (5, 'raw')"), "Port x cannot be opened: input/output error; give"),
    (serial.SerialException("raw"), "Port x cannot be opened; give"),
    (OSError(22, "raw"), "Port x cannot be used as a serial port: invalid argument; give"),
    (ValueError("raw"), "Port x cannot be used as a serial port; give"),
])
def test_other_refusals_have_the_words_of_the_system(capsys, monkeypatch, wrong, said):
    def refuse(*_, **__):
        raise wrong
    monkeypatch.setattr("serial.Serial", refuse)
    assert main(["fixture", "info", "--port", "x"]) == 3
    line = capsys.readouterr().err
    assert line.startswith(f"sagbench: {said}") and "raw" not in line and "Errno" not in line
