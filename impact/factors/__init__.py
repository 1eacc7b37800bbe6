"""The factor tables to values with draws.

In: ``factors/*.csv`` and a workshop's own ``factors.csv``. Out: a `FactorSet`, from which `Values` choose a row by
region and edition and draw it once.

- `claimrules`: the rules on environmental claims, read from their table: what each asks of one kind of wording, by
  place.
- `companions`: rows that call for others, and own ones that stand without them.
- `datapackage`: the description of the tables after the open Data Package standard; writes it as a program.
- `electricity`: electricity where it is generated and at the socket, made up of its rows.
- `factorset`: the tables read and checked once; a row chosen by region and edition.
- `keys`: the keys under which the calculation asks for a number: unit, meaning, use.
- `own`: a workshop's own table, under the same checks.
- `ownbinders`: what ``workshop.toml`` says of binders, as rows.
- `rownames`: what a row is called in plain words, in each language.
- `rows`: rows read as text, checked one by one and turned into factors.
- `values`: the central value and the draws of every factor, for one run.
- `views`: rows to look at: chosen by filters, counted, or one with its source and use.
- `worked`: steps of a calculation, each worked out once, with the rows that it used.

What holds here:

- Every value is a row with source, locator and evidence word: `seen` was read in the publication itself, `secondary
  copy` in a reprint or a data file of others, `computed` is arithmetic on other rows or on printed numbers. `common
  practice` is a working assumption of this project without a source, or a zero by choice of the boundary; `notes` has
  its reason. `from memory` is a published value that nobody here has seen. `impact factors list --count` counts them.
- Fates by the tables: the share recycled, by waste, and what becomes of residual waste, each of the nearest place that
  has a row; so a country needs two rows, not four for each waste, and what it lacks of one is not lost for the other.
- Tables of the same bytes are read once in a process, wherever they lie: a report is made from a copy of them. So nothing
  may change a `FactorSet` or `Names`; others are made from it.
- A missing row is a problem, never another value in silence. Regions are tried from the country over its groups to the
  world, and the report marks where it fell back.
- Streams by seed and name. A factor's draws depend on the seed and its id alone, so that another part or factor changes
  no other draw, and both sides of a comparison share theirs. The error of an amount is one stream for each activity and
  evidence class: it does not average out with more batches.
- A value that is set (`exactly`) is taken as true: the amounts named lose the error of their evidence class, and all
  draws of all else stay. So the interval of a break-even is that of the rest of the model.
- Who works out one workshop again and again keeps its values (`Values.kept`): draws, and steps that rest on settings and
  factors alone, last from run to run. A step that asks for something of the batches is found out as it is worked out, and is
  not kept. Kept or not, the bits are the same.
- A binder of the workshop's own is rows like any other, made from its table in ``workshop.toml`` (`ownbinders`), and an
  id in the names of the run; so nothing downstream knows of it. Its rows never suppose a footprint or nitrogen.
- An own row replaces the shipped one of its place alone, so that no key loses a row that the workshop or a rule of another
  place needs. One that calls for another row (`companions`) is a problem without it.
- An own row wins in its place, before the named edition and the newest; but the nearest place comes first. It has a
  stream of its own, named by what it says and where it is from: a row that two workshops share draws alike in both, and
  rows that differ do not.
- A faulty header of an own table does not hide the faults of its rows. Nothing is said of the cells of a column that is
  missing or stands there twice; with a misspelt column, of none that is absent, as any may be meant. Nor is a rule
  checked that hangs on such a column (the range of a value without its unit, ends without their distribution).
"""
