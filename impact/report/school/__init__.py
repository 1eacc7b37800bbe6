"""The report for a school: what happened, what a term would bring, which way its carbon goes.

- `chart`: the chart of one term, as ranges.
- `content`: what the two pages hold.

A term is the forecast with the stream of `impact forecast`, so that both print the same figures. Carbon is called less
or more only if the whole 95 % range lies on one side. A range whose two ends read the same is said to be much the same each
time, what no batch shows has none, and what no batch records is called estimated. Days are those of the part's own batches.
Cautions have plain words of their own, one for each hazard, and a test holds that none is missing. Only sentences count
for the reading grade: headings and tables would flatter it.
"""
