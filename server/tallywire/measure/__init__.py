"""What the server costs on this machine: one module for each measure, and what they share.

A measure is a module with `measure(scale) -> Iterable[Table]`, named in `catalogue.MEASURES`. `turns.in_turn` times
ways of doing something, turn and turn about; `machine` pins processes to cores and reads their processor time and
memory. A new measure needs nothing but its module, its line there, and its markers in docs/performance.md.
"""
