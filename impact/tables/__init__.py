"""Any CSV, XLSX or Parquet file to columns with the places of their cells, and XLSX out. It knows nothing of pulp.

In: a path and how it is to be read. Out: a `Table` of `Column`s, whole or in blocks, each cell with its file, sheet,
row and column; or an `UnreadableError` that carries the problem.

What holds here: what has one reading is read, what has two is asked about; hostile files are refused before they are
unpacked; text of people stays text.
"""
