"""Words, units, problems, places, printed numbers: what every other room speaks with. It knows no table and no workshop.

In: text as people write it, numbers, paths. Out: quantities in canonical units, problems as data, texts for readers,
files written whole or not at all.

What holds here: units are parsed at the edges and never travel inwards; a fault is a `Problem` with file, row, column,
what was read and what is accepted; a number is printed by one `Printer`.
"""
