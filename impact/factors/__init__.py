"""The factor tables to values with draws.

In: ``factors/*.csv`` and a workshop's own ``factors.csv``. Out: a `FactorSet`, from which `Values` choose a row by
region and edition and draw it once.

What holds here: every value is a row with source, locator and evidence word; a missing row is a problem, never another
value in silence; a row is drawn by a stream of its own, named by seed and id, and shared wherever it occurs.
"""
