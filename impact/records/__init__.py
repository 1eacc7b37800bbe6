"""A workshop folder to a `Workshop` and batches in canonical columns; new folders, the log sheet, the marked copy.

In: ``workshop.toml``, ``parts.csv`` or ``.xlsx``, the log of batches. Out: `Workshop`, `BatchTable` (arrays in SI units
by batch), and every problem at once.

What holds here: blank is not 0; a blank paper cell means none, a blank in any other amount means not recorded. Nothing
is worked out in this room.
"""
