"""The report for a school: what happened, what a term would bring, which way its carbon goes.

- `chart`: the chart of one term, as ranges.
- `content`: what the pages hold.
- `session`: one session: what the workshop states of it, its share of the term, the power of its devices.

A term is the forecast with the stream of `impact forecast`, so that both print the same figures. Carbon is called less
or more only if the whole 95 % range lies on one side. A range whose two ends read the same is said to be much the same each
time, what no batch shows has none, and what no batch records is called estimated. Days are those of the part's own batches.
What one session takes and gives is its share of the term, without a range of its own. What a workshop states of a session
stands as it is written; what it does not state is said to be not recorded, with room to write it in.

The draft risk sheet has a page of its own, so that it can be signed alone, and is last, so that it may be short. Its rows are
the cautions in plain words (`impact.findings.risks`), and each caution has them, as a test holds. Only sentences count for
the reading grade, those of the sheet among them: headings and tables would flatter it.
"""
