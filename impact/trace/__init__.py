"""The account shown: every figure as a tree of steps, and as a workbook with live formulas.

In: a `Study`. Out: steps down to records and factor rows; sheets of cells.

- `explanation`: the derivation of figures as one document of numbered steps.
- `intensities`: the intensities run on leaves, with names for their steps.
- `leaves`: numbers of records, settings and factors as leaves of a derivation.
- `outline`: a derivation as lines with their depth, in words.
- `results`: the results once more with every number as a derivation.
- `workbook`: a workbook of one run.
- `workbook_amounts`: the inventory as formulas, one row per batch.
- `workbook_formulas`: settings, factors and intensities as cells.
- `workbook_headline`: amounts times intensities, and the headline figures.

What holds here:

- A derivation is the calculation itself, run on nodes in place of arrays: factor values, intensities, inventory and
  workshop have twins whose numbers are leaves. So there is no second formula to keep in step; what the twins add by
  themselves are sums over lines. A leaf gives its array, a quantile is the root. `tests/test_explain.py` fails for
  every figure that loses its derivation.
- The workbook is the calculation run on formulas: a change of an equation changes the workbook by itself. `numpy` hands
  its functions on to numbers that remember their cells, and turning one into a float raises: no formula can turn into a
  constant unseen. Each line of amounts has the program's amount beside it, and the tests recompute both with another
  program. Text of people never enters a formula: parts and moulds go by number.
"""
