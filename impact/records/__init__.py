"""A workshop folder to a `Workshop` and batches in canonical columns; new folders, the log sheet, the marked copy.

In: ``workshop.toml``, ``parts.csv`` or ``.xlsx``, the log of batches. Out: `Workshop`, `BatchTable` (arrays in SI units
by batch), and every problem at once. Nothing is worked out in this room.

- `amounts`: columns of cells to amounts: regular cells at once, odd ones singly.
- `batches`: the log of batches, read and checked.
- `batchtable`: batches in canonical columns, as arrays.
- `cells`: the columns of a table read as what they should hold.
- `columns`: the columns of a log: what each means, what a blank and a 0 mean.
- `demonstration`: the demo workshop that the package carries, copied out.
- `energy`: an amount, a power times a time, or a device and a time; how the amount is known.
- `files`: the table ``[records]``, and which file holds a table.
- `statements`: what a workshop states beside its batches: grants with money and goals, sessions, a visit to a school.
- `grants`: the part of the work that is counted for a grant, and days that are counted twice.
- `logsheet`: the log sheet of a new folder.
- `markedlog`: a copy of the log with its faulty cells marked.
- `new`: a new folder: settings, an example part, a log sheet.
- `ownbinders`: the ids of binders that only this workshop has.
- `parts`: what is made, and the plastic part beside it.
- `selection`: the batches of a period, a part and a site.
- `tomlslips`: slips that make the settings no TOML, each with its line as it should be.
- `workshop`: who and where, equipment, moulds, fates, targets, parts.
- `workshop_file`: ``workshop.toml``, read and checked key by key.
- `workshop_keys`: how a class of settings says what it is in a file: the keys of its attributes, and how their values
  are read.

`columns` has each column of the log once, and `workshop` each setting: readers, messages, the log sheet and
`impact help` are made from these two.

What holds here:

- Blank is not 0, from the reader to the evidence class. A blank paper cell means none, a blank in any other amount
  means not recorded.
- In ``workshop.toml`` and the list of parts every quantity carries its unit, in the cell or the header; a bare number is
  an error that gives the likely units, as it was most often meant in grams. The log keeps bare numbers under headers.
- What people write is understood where one thing can be meant, and asked about where two can. Words for ids stand in
  ``factors/names.csv``, for columns of the log in ``columns.csv``. Slips of TOML are mended to tell all else that is
  wrong, never to work anything out. A second sheet with the same headers is an error until ``[records]`` names sheets.
- Recorded, recipe, table: for binder solids, paper moisture and preparation energy the record wins over the workshop's
  own setting, and that over the table. A spread goes with what was estimated, not with what was weighed.
- Stated shares with ``evidence`` are of the class `observed`, without it `assumed`: a Dirichlet distribution, wide for the second.
- Pictures stand in the folder itself, under names that a file inside a PDF can have, so that a report carries them
  under the names that the settings give. They are read with the settings, so that every command tells their faults.
- Settings of the records (``[records]``) are read apart, so that they hold while the rest of ``workshop.toml`` has
  faults.
- Settings stand in the folder, batches may stand in parts (``batches/``). A pattern of files alone would leave out what
  they mean. Rows start at 2 in every part, and problems name it. Reports and decisions read one file, because the
  records that they attach are one.
- A new folder asks for nothing but the country, and that only where the system's settings name none: a wrong country
  would change every figure without a word. It is readable and marked as invented: reading needs a part and a mould, and
  examples are no records. The user takes the mark out together with them. Two letters of a territory become three by
  the tag ``code`` of the catalogue.
- The log has the columns in which a blank costs most, thus shredding, blending, pressing, drying, trim and driving: 0
  is easily typed, an estimate is wide. The other columns stand on its help sheet; a test holds both lists to what is
  read.
- Checks in the log let text pass in amounts, because a cell may carry a unit or name a device; `check` reads them. The
  list of parts warns and does not stop, because ``parts.csv`` decides.
- A part stands in for no plastic part where all columns of that are blank, or missing. One that is filled asks for the
  others, so that a forgotten cell is no part without plastic.
- Statements change no figure. What is left out of them is "not recorded" in reports, which is not 0; a goal is counted
  from the records, or stated, never both.
- A grant scales accounts, not parts: kilograms and kg CO2e by its share, over its days; counts, rates, figures per part
  and the register are whole.
- Energy entries with a time keep it, for the doubts. Behind this room stand canonical units; the texts of cells are
  gone.
"""
