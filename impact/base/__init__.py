"""Words, units, problems, places, printed numbers: what every other room speaks with. It knows no table, no workshop.

In: text as people write it, numbers, paths. Out: quantities in canonical units, problems as data, texts for readers,
files written whole or not at all.

- `catalogue`: the ids that people may write: grades, binders, polymers, countries and the rest of the catalogue.
- `defaults`: seed and draws of an uncertainty run where nobody says otherwise.
- `figurenames`: names for the figures of a result, by their path in the JSON document.
- `files`: what may be read, and output files written whole or not at all.
- `language`: the languages of a report, one catalogue of translations for each but English, and what goes to translators.
- `locale`: how a country writes numbers and dates, its paper size, and the country of the system's settings.
- `pictures`: pictures of a workshop's own, read without trust and brought into one plain form.
- `places`: where the package finds the files that ship with it.
- `printing`: numbers as reports print them: unit, digits, marks, interval.
- `problems`: one problem as data, many of them as lines, counts with their noun.
- `processes`: work in another process beside this one; how a process looks for what can be thrown away.
- `progress`: a bar on standard error, on a terminal only, after two seconds.
- `quantities`: the kinds of figures that readers meet, and how each is printed.
- `sentences`: sentences that carry figures, in pieces until their reader's language and marks are known.
- `scales`: numbers of a table at a size for a reader, with their unit in words.
- `serial`: results as plain data for JSON.
- `slips`: which unit was likely meant, and ratios in words.
- `spellings`: how people spell units and names, and what is refused as ambiguous.
- `texttable`: text tables for a terminal.
- `units`: the one unit registry, and the amounts that people write.

What holds here:

- Units are parsed at the edges and never travel inwards. The full unit registry costs 0.3 s to build and imports Dask
  where that is installed, so that what everyday units need does not ask for it; a test holds both to the same sizes.
- A fault is a `Problem` with file, row, column, what was read and what is accepted. From three of a code in a column
  problems are one line; ``--all`` and ``--json`` have every one.
- What a cell may hold has a least beside 0 as well as a most (`units.LEAST`, `LARGEST`). A figure that is not finite is
  refused where results become plain data (`serial.plain`), and named: no output has one.
- A number is printed by one `Printer`. The country sets marks, dates and paper (Unicode CLDR). A point between groups
  of digits is written as a narrow blank, for it misleads readers of English.
- Outputs are written beside their place, locked, brought to the disk and renamed; without ``--force`` by a hard link,
  so that of two runs at once one wins and the other says so. A lock ends with its process: the next run removes what a
  killed one left, never what another still writes. Links, pipes, devices and folders in place of an output are refused,
  and a file that is replaced keeps its rights.
- Records that pass through the temporary directory of the system (to make a report from what it carries) lie in a folder
  beside a locked file, so that they do not outlive a killed run for longer than to the next one.
- Inputs are regular files; links to one are followed, so that a folder may share a table. ``workshop.toml`` names two files
  at most, pictures that stand beside it, and neither may be a link. Every figure comes from one state of each file: a log
  is opened several times, and one that
  changes meanwhile is read again up to nine times (other files five) and then refused. Two files replaced one after the
  other may still not fit each other, and an editor that empties a file before it writes may be met in between: both are
  reported as faults of the records.
"""
