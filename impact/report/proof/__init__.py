"""The parts of a verification: what a report carries, read as what a stranger wrote, and two files compared.

- `carried`: what a PDF carries, and where its figures stand.
- `figures`: attached files, attached results and printed figures held to those of the records, for the messages.
- `likeness`: the file held to the one that its records make: packed otherwise, or where it differs.
- `settings`: the attached settings, every key, type and bound.

Nothing here runs or opens what a report names: readers and languages are words of a list, a template is never run, and
names of files are those that a report of ours has. What proves a file is that it is the same, byte for byte, as the one
that is made again, or the same but for how its streams are packed, which `likeness.packed_otherwise` finds by
accounting for every byte. All else only says in words where a file differs, and proves nothing.
"""
