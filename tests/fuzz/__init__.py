"""Fuzzing guided by coverage, and files with mistakes by the hundred: `make fuzz N=...`."""
