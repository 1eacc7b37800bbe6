"""Any CSV, XLSX or Parquet file to columns with the places of their cells, and XLSX out. It knows nothing of pulp.

In: a path and how it is to be read. Out: a `Table` of `Column`s, whole or in blocks, each cell with its file, sheet,
row and column; or an `UnreadableError` that carries the problem.

- `arrow`: Arrow arrays from buffers and back, without loading pandas.
- `arrow_columns`: Arrow arrays to columns of numbers, days and texts.
- `blocks`: tables in chunks, each numbered as if it stood right below the header.
- `csv`: a CSV file in blocks of whole records.
- `dates`: days, read where certain, asked about where day and month can change places.
- `decimals`: how numbers are written: decimal marks and thousands marks, read where they are certain and asked about
  where not.
- `encoding`: the encoding of a text file: certain, likely, or refused.
- `fingerprints`: 64 bits for each text, so that ten million names are compared in 80 MB.
- `headers`: which column a header stands for.
- `notes`: what a value of a type with notes may be, for tables of settings.
- `numberformats`: which number formats of a workbook show a day, a time, a share, or a unit.
- `parquet`: a Parquet file in batches of rows.
- `settings`: how a table is to be read, where the file itself leaves it open.
- `sheet`: a table of records from a workbook: its sheets, header row and end.
- `table`: `Table`, `Column`, and a file read whole.
- `texts`: columns of text as arrays: few texts that come again, or texts that differ.
- `vectors`: arithmetic over batches without branches.
- `xlsx`: what is read of a workbook's archive, and nothing else.
- `xlsx_cells`: the cells of one sheet, with what is hidden or merged.
- `xlsx_out`: sheets written to an XLSX file; the same content gives the same bytes.

What holds here:

- Asked, not guessed. A number or date with one reading is read; one with two is settled by ``[records]``, else it is an
  error that gives both. For numbers, cells of the same column with one reading settle the others, if they show one and
  the same mark; a certain number wins over the setting, and a column that shows the contrary of it is asked about. For
  dates nothing in the column settles, because imports that swap day and month leave columns behind that look settled.
  Another column or file settles nothing.
- Workbooks are read by our own parser of the three kinds of part that hold values, on expat, and not by the library
  that writes them: its streaming mode knows neither merged cells nor hidden rows, its full mode keeps every formatted
  cell, and its event parser takes document types. Ours refuses a document type when it is declared, before any entity
  is used, and opens nothing else: 5,000 rows in about a second, a million empty rows in about four. Limits stand at the
  top of `xlsx` and `xlsx_cells`.
- A cell of a workbook is what it shows, as text with a decimal point; cells that are numbers are known as such, and no
  decimal mark can touch them. A result saved with a formula is taken as it is. A problem names sheet and cell.
- Text of people stays text, on the way in and out.
- Columns at once. Arrow parses whole blocks: numbers as numbers, texts as codes of distinct texts, each converted once.
  A column with one odd cell is text in that block, and its cells are read again for messages. Rows that differ in
  length, empty rows and NUL go the slow way, block by block. A file with another delimiter, decimal comma or encoding
  is one block, because marks are settled over whole columns.
- Arrays, not frames: a column is a numpy array or `texts`, so that `totals`, `check` and a funder's report never load pandas (0.2 s).
  Codes are 64 bits wide while they are looked up with, because numpy takes three times as long with 32. A choice for
  every row (``numpy.where``, a mask) costs five times a multiplication, because the processor guesses wrong; `vectors`
  multiplies with flags, and the floats are the same.
- Names that stand twice are found by fingerprints, sorted once at the end; a pair makes the names be read again and
  compared, so that a chance hit is no error.
"""
