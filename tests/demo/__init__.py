"""The demonstration: two 74LS00 off the timing card of a 1981 paper-tape reader, in the virtual fixture."""
