"""The shell: journal, fan-out, clock and what else touches the machine."""
