"""The account shown: every figure as a tree of steps, and as a workbook with live formulas.

In: a `Study`. Out: steps down to records and factor rows; sheets of cells.

What holds here: the calculation itself is run on nodes and on formulas, so that there is no second copy of an equation.
"""
