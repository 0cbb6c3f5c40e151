"""The wire: frames, the two streams, the serial port. Bytes on one side, messages on the other."""
