"""The commands: arguments in, one call, text or one JSON document out.

In: arguments of the shell. Out: standard output and error, files; status 0 done, 1 faulty records, 2 a wrong call.

- `commands`: the group `impact`, with `check` and `totals`.
- `decisions`: `breakeven`, `binders`, `forecast`.
- `decisions_text`: break-even points, the comparison of binders and the forecast as text; every number of it is in
  their documents.
- `explain`: `explain`.
- `explanation_text`: a derivation as an indented tree.
- `export`: `export`.
- `factors`: `factors list`, `show`, `check`.
- `help`: the command that explains what may be written: settings, columns, ids, spreadsheets, names of figures.
- `new`: `new`.
- `open`: `open`.
- `report`: `report` and `demo`.
- `terminal`: what the commands share: arguments, options, opening a folder, problems, files.
- `totals_text`: the figures as text tables.
- `verify`: `verify`.

What holds here:

- One option means the same in every command (`narrowing`). A report for a funder counts the only grant in the settings:
  it is what the grant was entered for, and the smaller claim; the command says what is counted and how to count all.
- `totals` prints what is asked for most, and what speaks against the workshop, in a screen or so; ``--all`` the rest.
- Importing the commands loads no heavy library; problems are shown all at once; nothing is overwritten without
  ``--force``, and the demo writes inside its folder only.
- Commands multiply with one thread (`terminal` sets ``OPENBLAS_NUM_THREADS`` where the user has not): with 10,000 draws
  the waiting of more threads costs 0.2 s of processors and gains nothing by the clock, and with 300,000 it is a draw. A
  notebook keeps its own setting.
- Arrow uses the memory pool of the system (``ARROW_DEFAULT_MEMORY_POOL``, unless it is set): the one it comes with
  gives memory back between blocks, and a sixth of the time by the clock went into asking for it again.
- Pydantic looks for no plugins (``PYDANTIC_DISABLE_PLUGINS``, unless it is set): to read what all installed packages say
  of themselves takes a fiftieth of `check`, and none of them is wanted where `verify` reads the settings of a report.
- Standard streams that came closed lead nowhere. Letters that the terminal lacks are shown as ``\u2082``, which JSON
  reads back. A reader that leaves early ends a command with the shell's own status, not with that of a fault.
- Ctrl-C raises KeyboardInterrupt, as Python does, so that commands close what they opened; `impact.__main__` takes the
  interrupts that reach no command. A terminal interrupts all processes of ``--workers`` at once, and the helper of a
  report or of the demo (`impact.base.processes`); they never see it, and the first closes them.
"""
