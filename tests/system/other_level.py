"""Stands behind a terminal and answers every `hello` as firmware of API level 9 would.

Built with the public COBS and CRC packages, not with ours.
SPDX-License-Identifier: MIT
"""
import os
import sys

from cobs import cobs
from crccheck.crc import Crc16Ibm3740

near, heard = int(sys.argv[1]), b""
while True:
    heard += os.read(near, 1000)
    *frames, heard = heard.split(b"\0")
    for frame in filter(None, frames):
        body = cobs.decode(frame)
        nonce = body[5:7]
        answer = bytes([0, 0, 4, 0x81]) + b"SAGB" + bytes([9]) + nonce + bytes(4 + 4 + 2 + 1 + 1)
        answer += Crc16Ibm3740.calc(answer).to_bytes(2, "big")
        os.write(near, cobs.encode(answer) + b"\0")
