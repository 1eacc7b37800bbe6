"""What a workshop can choose: break-even points, what lowers a part most, what to measure next, binders, the next sessions.

In: records as they are, with one thing changed. Out: answers with intervals from shared draws.

- `binders`: the binders side by side for one part.
- `breakeven`: the value of one record at which a part emits as much as its plastic part.
- `forecast`: what the next sessions take and give, and the chance of a budget and of a target.
- `levers`: what would lower a part most, one realistic step at a time.
- `pace`: how fast a workshop goes by its records, and when it would reach its target.
- `planned`: totals of every line for a plan of sessions, and how far each rests on the records.
- `recipes`: how a workshop uses each binder: dose, solids, preparation.
- `scenario`: the records of one part, and what they come to: its stock, the part as made and compared.
- `sensitivity`: which inputs the spread of a difference comes from.
- `supposed`: the results with several things about a part and its workshop different at once.
- `unseen`: what rows that nobody saw published do to the figures at the ends of their intervals.
- `variables`: the variables of a break-even, and their ranges.
- `whatif`: the records as they would be if one thing were different.

What holds here:

- The real account is run again, never an approximation of it. A value is written into the records, and both are worked
  out as an assessment does. Affine in the variable (most), in its inverse (pressings) or in 1/(1 - rate) (rejects): two runs give the exact root of every draw. The binder dose is a curve: a search (`root_between`) for
  the centre, 17 doses with straight lines between for the draws. With several roots the first counts. A difference of 0
  counts as "not lower". The ranges are choices of ours and stand at the top of `variables`. "Always" and "never" are said only where no
  draw differs.
- Levers: what a step takes off is a difference in shared draws. A step keeps the evidence class of what it changes, so
  that half of an estimate is as unsure as the estimate. A step that takes off nothing is not mentioned. Whole parts of
  the account are worked out again only where an amount times its unit impact does not tell.
- Break-even looks at the batches of its part, unless none has fresh paper, so that its make-up is that of others. The
  rows cannot be summed up first: the share of binder in a batch is a ratio, so its end of life is not linear in the
  dose. Instead stock is taken of all values at once, the rows standing below one another (`scenario.stocks_of`), and
  unit impacts are worked out again only for the stages that a variable names. Both give the bits of the whole account.
- What to measure next: cov(x, y)/var(y) for each contribution, split between its amount and its factor, what the two
  leave half to each. The shares add up to 1. A split by logarithms would charge an amount with what it shares.
- Binders: one part, one fibre, one making; only binder, preparation and end of life differ, in shared draws. No score.
  Water that a binder brings is shown and not charged. Reject rates: a score interval at the effective size of clustered
  counts; whole batches exchanged to compare two. Coverage and false alarms: `tests/benchmarks/coverage.py`.
- Prediction interval: a plan of sessions is as many batches, of any size; whole ones are drawn, and the deviation from the
  ratio of the records is stretched for the small number of them (`impact.core.prediction`). Five batches at least. What
  occurs in fewer than eight of more is rare: such intervals held 0.54 to 0.87, so the range of what was seen stands there.
  To occur is to bring a quarter of the mean: a base everywhere hides no lump in two batches. A reject rate that nobody
  recorded is drawn from its row. Sessions smaller than the batches add the chance of each part to the good ones.
- The plastic of a forecast is that which the workshop says is displaced; without a word, all of it.
- A command about one part takes the only part on record; with several it lists them and ends with status 2. A choice by
  number of parts, as the reports make it, would answer a question that nobody asked.
"""
