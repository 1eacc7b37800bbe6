"""Amounts times intensities: the only room that knows the lines of the inventory.

In: batches, workshop, factor values. Out: `Results`, figures with their draws, and doubts about the records.

- `amounts`: from batches to the inventory, added up by group and line.
- `assessment`: from a workshop, its batches and a factor set to one results object.
- `assumptions`: what the records do not say, each with what to record to replace it.
- `blocks`: one span of the batches surveyed; a pure function of files and settings.
- `cluster`: spans surveyed by several processes or machines; needs the extra `cluster`.
- `comparison`: what is kept of each batch to compare it with the others, and the doubts that show only there.
- `intensities`: what one unit of each line emits.
- `inventory`: amounts as groups by lines.
- `linekinds`: what a line of the account is declared with: its amount, its emission per unit, its words; and the
  names of lines.
- `lines`: the lines of the account, each declared once: what a batch brings to it, what one unit emits, and how it is
  told.
- `ownvalues`: own factor values, and the main figures with the shipped ones.
- `paper`: paper by weight, fines, and rejects pulped again.
- `plastic`: the equivalent plastic part of a moulded part; service lives and the share displaced.
- `plausibility`: doubts about single batches.
- `results`: the results of one assessment, as data.
- `scan`: one pass over the batches: every problem, and their tally.
- `sizes`: doubts by size: amounts far from those of the other batches, or from what the tables call plausible.
- `steps`: what one batch comes to, step by step: the same steps on arrays of batches and on the cells of a row of a
  workbook.
- `sums`: accounts by site, and their sums.
- `tally`: what the figures need of some batches, as sums.

What holds here, of the account:

- Lines are linear in the batches. A line is (account, activity, item, evidence class). Groups are sums of rows, results
  one matrix product; what is not linear (shares, lives, solids) waits for the intensities. Element 0 of an array is
  central.
- Disposal avoided is gross; losses are charged to the parts. What the collected paper would have emitted is one
  account. Rejects and trim that go to a fate are in the parts' end of life. Nothing is counted in both. Diversion by
  weight is net of what returned, because it is a statement about weight.
- Fines are the paper that is found in no part, reject or trim: they come off what was kept from landfill, fire and
  compost, and off the disposal avoided, at the mean of the paper, unless ``[fines]`` says where they went. The
  shortfall is that of all that is assessed, above zero, because a single batch is blurred by the moisture of its parts;
  each site bears the share of the whole, so that sites add up, while ``--site`` takes the site's own. Hence disposal
  avoided of parts or sites narrowed to do not add up. It is of the fresh paper: rejects pulped again circle inside. The
  recycling lost is not lowered: the paper was taken. Settled fines that go by a route are taken off the disposal
  avoided in full, not charged to the parts. A batch that records no output at all is refused. The share is 1 at most;
  its interval holds the errors of weighing, not those of moistures that were filled in. What is deferred adds up over
  sites only where each kept something, because it is cut at 0.
- Masses of paper bear the errors of their lines, one for each activity and evidence class, as emissions do; so the
  fines, a small difference of large masses, have a wide interval, cut off at 0.
- Paper is on the as-weighed basis for diversion, dry for carbon. Fibre in parts and losses is turned back to the
  as-weighed basis by the mean moisture of its batch's paper.
- The flow of paper is fibre without binder, as weighed, and balances exactly: both sides are worked out batch by batch
  with that batch's moisture and make-up, and what the dry balance misses is a flow of its own. Rejects pulped again
  circle inside; only their surplus or shortage shows. Its lifetime landfill is that of all fibre in good parts; what is
  called deferred only that of what was kept from landfill.
- Own rejects have the mean make-up of the fresh pulp of their part: its paper by grade, and the binder beside it. What
  their binder weighs is never paper. A batch tells its share of own rejects; the make-up is worked out from the sums.
- Nameplate is taken as drawn: rated power × time × the load stated. That motors draw less is in the spread of the class
  (0.6 to 1.15), not in its centre.
- Waste water equals water supplied. Each litre bears supply and treatment; what evaporates is not taken off.
- Room heat counts only where the workshop states a heated room: latent heat of the water, over the boiler's efficiency
  for gas. A row of the tables says what share of it a dryer takes from the room: all in room air, before a fan and where
  nothing is recorded; none with a heater of its own, or where it comes back, as from a dehumidifier.
- Electricity is life-cycle on both sides: a direct regional factor gets the fuel supply of its country and the network
  losses added, and the report says so.
- Plastic goes by one route at a time: a `formed` row where there is one and a row says that it covers the process, else
  `resin` with scrap and electricity; a printed part is never formed. The other route, and recycled polymer where the
  tables hold it, are shown as cases.
- Service lives of both parts have an error each, `assumed` or, with evidence in ``parts.csv``, `observed`, shared by all
  parts; the share displaced is drawn as a stated share is, around what is stated. A stated 0 displaces nothing.
- Moulds are shared over their stated life until retired, then over what they made, blank rejects by the usual rate.
- Parts and their losses bear collection and handling on the way to their end, as plastic parts do, by the same rows per
  kilogram as weighed. The paper that went elsewhere without the workshop gets no credit for its collection.
- Landfill: 100 years, no storage credit; guideline values by default, measured yields as the second set, both shown.
  Another view of landfills (`UnitImpacts.under`) is the same calculation with another set, horizon or credit.
- Kind of landfill: as stated, else the shares of the country's waste in managed sites and in sites of unknown kind; without
  a row all are unknown. Correction, collection and oxidation are those of each kind, and the mean is that of their
  product. Collection by the tables is that of managed sites; a stated one holds for all.
- Stated fates are a Dirichlet distribution, the wider the bolder; a fate in the log counts as looked into.
- Recycling lost is per kg as weighed and hangs on the lines of paper collected; primary and recovered fibre of one
  publication share their draws.
- Electricity sold is credited where it is generated. What is credited is a part of stages and disposal avoided, shown on its
  own by a matrix over the same lines, so that it can be added back.
- What holds no carbon that decays (a binder by its row, a polymer that is all fossil) gives no gas in compost.

Of doubts:

- A ladder of three. Refused: what cannot be. Asked: what would change a headline by more than half, or over 2.5 times as
  much dry matter in as out; an error unless the row names the column under `confirmed`, or ``[workshop] confirmed`` the
  setting, which turns it into a warning that stays. Doubted: a warning. None changes a figure. Each says why, what would
  be believed, and when it is fine. Rows without an error are doubted beside the errors of others.
- A doubt quotes what was read only where that is the text of the cell. Amounts are kept as numbers in our units, so they
  are told (`Problem.amount`, in the message too; masses below 1 kg in g) without the word read; a sum says that it is one.
- Sizes: each quantity is divided by what it goes with (pulp, water dried off, batch) and put beside the other batches and
  beside a row `plausible.…` of the tables. One byte per batch and recorded quantity holds its logarithm in steps of a
  tenth: medians, deviations and candidates are counted from 256 bins. Candidates of each block are kept whole for their exact
  amounts, by the middle of the block; where one is missing when that of all is known, the file is read again so far. Beside the others all parts go together, because ratios are alike across parts; five robust deviations, a factor
  of 3.3 to 50 by the row of ``sizes.csv``, and rarer than one in ten, else it is a way of working. A span is wide: only
  slips lie outside. Money has none. What a doubted setting explains is not told again for its rows. The headline that is
  asked about is worked out from all doubted amounts of a column together, as a slip that rows share is one slip.
- Recorded drying as power times time is not put beside the span: a light batch may have a fan of its own for days.
- Doubts look at the batches chosen, with all batches of the folder as history, in a thread beside the account; their
  factors are read apart, so that none counts as used. Limits that are figures of the trade are rows of the tables; the
  others are constants whose docstring says that they are our choice. `assessment` alone makes only those of the mass
  balance; opening a folder makes all.
- Drying below the latent heat is doubted only where ``[drying] dryer`` makes its own heat: the whole range of its row
  lies above the latent heat, as for an oven and a heated cabinet. A fan, room air and a dehumidifier take the heat from
  the room or give it back. The water is the least that is likely: the driest end of pressed solids unless the workshop
  states its own. ``0`` says that none was used and is believed. MJ or kWh says nothing of heat and plays no part.
- Power times time takes all devices of the folder at their rated power over the hours of the batch, because a metered
  amount names no device, and leaves drying out, which runs at night.
- A dose outside the interval of its row; own rejects count as fibre for the upper end only.
- Heavy parts lie over 4 robust deviations (median absolute deviation / 0.6745) above the median of at least five
  weighed batches of the part; a deviation is 2 % of the median at least, because scales round.
- More rejects by the exact test against all earlier batches of the part, at 0.001.
- Doubts are flags in arrays and numbers; words are made for those that are listed, `LISTED` of a kind, when the pieces are
  put together, so that a programme of which most batches are doubted takes no longer. The rest is counted by file.
- No clock: `check` passes today's date, which counts only where ``workshop.toml`` has no ``date``; `totals` and
  `report` doubt no late date without one.

Of many batches:

- One pass, small and large alike: a pure function over the blocks of a file, whose pieces are added up in their order;
  the demo is one block. Commands that need rows ask for them (``keep``); no number of batches decides that. All that the figures need of the rows is in `tally`, and
  tallies add up; a new figure that needs the rows goes there, else it makes the results read the file again. Sums of
  other block sizes differ in the last bits of a double, never in what is printed; the number of threads changes no bit.
- A span is the unit of work elsewhere: a file, row groups of about a million rows of Parquet, or 256 MB and more of
  CSV, whose ends are found by a pass for line ends and quotes. A worker gets the settings and the span and sends one
  tally back: no shared state, so that a lost worker costs its spans and nothing else. Tallies are added up block by
  block within a span and span by span after that, in one process too: this is why many give the bits of one. Dask does
  what we need of it (several machines, lost workers, no service of our own) and is imported for it alone. Some 25 bytes of each batch, a byte for each size, and its name
  go to one process; a tally is a few kB by part and binder, and by site 2 MB for 500 sites, 200 MB for 50,000.
- Groups are part and binder, and site only where sums by site are asked for: a table of all sites costs time and memory
  that most questions do not need. Paper by month is in the tally: months would multiply the rows.
- Sites add up to the workshop in every draw. Errors of amounts (scale, rating plate) go by activity and evidence class
  and are shared by all sites, as they are by all batches: the cautious reading, which makes the sum wider.
- Batches beside one another at any number: day, part, site, part mass, counts, codes of sizes and a fingerprint of all that is
  recorded of every batch stand in columns that grow. Equal fingerprints are equal batches: with 64 bits, ten million batches
  hold one doubt too many with a chance of 3 in a million, and a doubt changes no figure.
- Steps that many lines share are worked out once for a run, and their factors noted for every line; those on which no view
  of landfills bears (`intensities.ANYWAY`), once for all views. What is kept dies with the run: factors,
  settings and draws of a run do not change.
- Arrays, not frames: a data frame is made where reports, decisions and callers want one; each distinct text is looked
  at once.
"""
