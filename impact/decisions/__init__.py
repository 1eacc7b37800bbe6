"""What a workshop can choose: break-even points, what to measure next, binders, the next sessions.

In: records as they are, with one thing changed. Out: answers with intervals from shared draws.

What holds here: the real account is run again, never an approximation of it; no single score; a forecast draws whole
batches again.
"""
