"""What a workshop can choose: break-even points, what to measure next, binders, the next sessions.

In: records as they are, with one thing changed. Out: answers with intervals from shared draws.

- `binders`: the binders side by side for one part.
- `breakeven`: the value of one record at which a part emits as much as its plastic part.
- `forecast`: totals of every line for a plan of pressings, and the figures that follow.
- `pace`: how fast a workshop goes by its records, and when it would reach its target.
- `recipes`: how a workshop uses each binder: dose, solids, preparation.
- `sensitivity`: which inputs the spread of a difference comes from.
- `unseen`: what rows that nobody saw published do to the figures at the ends of their intervals.
- `whatif`: the records as they would be if one thing were different: the variables, and their ranges.

What holds here:

- The real account is run again, never an approximation of it. A value is written into the records, and both are worked
  out as an assessment does. Affine in the variable (drying, electricity, service life), in its inverse (pressings) or
  in 1/(1 - rate) (rejects): two runs give the exact root of every draw. The binder dose is a curve: Brent's method for
  the centre, 17 doses with straight lines between for the draws. With several roots the first counts. A difference of 0
  counts as "not lower". The ranges are choices of ours and stand at the top of `whatif`.
- Break-even looks at the batches of its part, unless they are all of own rejects, whose make-up is that of others. The
  rows cannot be summed up first: the share of binder in a batch is a ratio, so its end of life is not linear in the
  dose.
- What to measure next: cov(x, y)/var(y) for each contribution, split between its amount and its factor, what the two
  leave half to each. The shares add up to 1. A split by logarithms would charge an amount with what it shares.
- Binders: one part, one fibre, one making; only binder, preparation and end of life differ, in shared draws. No score.
  Water that a binder brings is shown and not charged.
- Prediction interval: whole batches are drawn again, as many as the plan needs, and the deviation from the ratio of the
  records is stretched by sqrt((1 + m/n) n/(n - 1)) and by Student's t, for m future and n recorded batches; never below
  0. Five batches at least. Coverage of the 95 % interval for lognormal batches (sigma 0.5), 300 invented workshops
  each, seed 20260401: 0.953 (n = 30, m = 10), 0.923 (30, 30), 0.913 (5, 10). One such share is known to about ±0.03.
  The tests hold it between 0.90 and 0.99, with 8 batches for the small case.
- A command about one part takes the only part on record; with several it lists them and ends with status 2. A choice by
  number of parts, as the reports make it, would answer a question that nobody asked.
"""
