"""Amounts times intensities: the only room that knows the lines of the inventory.

In: batches, workshop, factor values. Out: `Results`, figures with their draws, and doubts about the records.

What holds here: the inventory is groups by lines, linear in the batches, so that sums over batches, parts, sites and
workshops are sums of rows; what is not linear waits for the intensities. An array's element 0 is central, the others
are draws.
"""
