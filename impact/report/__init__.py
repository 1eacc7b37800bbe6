"""Reports for a funder, a school and the choice of a binder, as PDF and HTML, and their verification.

In: a `Study` and what is asked. Out: pages that carry the records they were made from.

- `addends`: tables whose figures add up, and whether they do as printed.
- `binder`, `funder`, `school`: one folder for each kind of report: content, charts, words.
- `context`: what a template gets: results, each figure tied to its name, and what one kind adds.
- `drawing`: what all charts share.
- `evidence`: what a report carries with it, and the checksums.
- `figurekinds`: which kind of figure each number of a report is, by its name.
- `glossary`: the terms of a report, each in one plain sentence.
- `faces`: the typeface, its family and files.
- `html`: context and template to HTML, and on to PDF.
- `layout`: the layout library: a page of ours as a PDF of both standards, and Pango, which it needs.
- `kinds`: the kinds of report: each a folder of this room, a template, and one entry here.
- `production`: a report from a folder, made from the very records that it carries.
- `programme`: the funder's report of several workshops together, which is no kind of its own.
- `proof`: the parts of a verification: what a report carries, read as a stranger's, and two files compared.
- `request`: what is asked of a report.
- `screen`: what a page gets for a screen: regions that scroll, cards, tones for the dark.
- `ties`: each figure on a page tied to its name in the JSON document.
- `vector`: a chart as SVG, in the form that the layout library takes and in that for a browser.
- `typefaces`: letters beyond the typeface: fonts of the system that hold them, and those that none holds.
- `verification`: a report made again from the records that it carries, and held to that byte for byte.
- `words`: plain words for the ids of records and tables, and what a reader types as code.

What holds here, of the evidence:

- A report is made from the records that it carries. The tables are written as CSV, in the rows where they were, and
  read back with the factor tables; only then is anything calculated, so that verifying does nothing else than to do it
  again. Notes are left out but for words that a caution goes by. Nobody can tell from a file who made the records in
  it. Pictures go along in plain form, which reading leaves as it is: bytes of another version of the picture library
  come in when a picture is first taken, never when a report is made again.
- Ties: a template prints a figure by its name, ``f("paper.collected_kg.value")``. The name is the id of its element,
  so the PDF has a named destination at every printed figure, and a verification that finds another file reads the
  letters that stand there to say what is wrong. A figure with its interval is one element, whose id names all that it
  holds, and counts as one. A name that no result has stops the report.
- A verification proves a report by making it again: the attached records, the request in the attached settings, the
  factor tables of the program, never those attached, and the layout. Only the same bytes count, or the same but for how
  streams are packed. Nothing attached is run or opened by a name that it gives, so a report by a template of a
  workshop's own is never proved. Where libraries, the version or letters from a machine's fonts may be why bytes differ,
  that is said, and no page is proved: a forger who names them gains nothing. What an alteration shows, and where, is
  said for people and proves nothing. The settings name all whose versions may change the bytes. 50,000 draws are the
  most of a PDF, because verifying more would take more than 1 GB. ``START-HERE.txt`` says it all to those without the
  program; it stands in ``report_templates/guides``, one text for each language of a report.
- The same records, seed and version give the same bytes. No clock is read: a date is printed only if ``date`` stands in
  ``workshop.toml``, and the times of attached files are 1980-01-01. Charts use a fixed hash salt, and text in them is
  drawn as paths. The typeface is a package: Latin, Greek and Russian letters come from it, and the machine's fonts do not
  matter. A letter that it lacks, in a name that people gave, is taken from a font of the machine, so that such a report
  has the same bytes on machines with the same fonts alone; what no font holds is named in brackets (`typefaces`), and the
  command says so. The PDF's identifier is a hash of its HTML and of the files attached. Nothing is fetched: only data in
  the page, our own font files and the system's fonts may be read. Another version of the layout library, the chart
  library or the font package may change the bytes, never the figures.
- The PDF fulfils PDF/UA-1 and PDF/A-3a at once, see `layout.pdf`. `layout.tagging` mends the objects before they are written: scope of
  header cells, their index, lists in columns, links with generated text, what a link says, the place of pictures,
  running feet and leaders as artefacts, text without a span around each line. It leans on how that version builds its boxes and tags, and `layout.wording` on how
  it draws SVG, hence the bounds in ``pyproject.toml``. Templates owe the rest, see `layout.pdf.pdf_of`, and no ``opacity``.
- Where there are two processors, a report has a helper from its first moment (`base.processes`). While nothing is asked it
  imports what draws and reads templates; then it works out every other part's decisions, and draws the charts. Bytes are the same without it.
- Pango is asked for once the records are read and before anything is worked out. Its packages stand in `layout.pango` alone,
  where ``.ci/prepare`` reads them too.

Of the page:

- Decimals by kind of figure: `figurekinds` knows the kind by the name, `impact.base.quantities` unit and rounding. What is
  rounded alike in a report has three significant digits of its largest central value, so that columns line up on the
  mark and a figure reads the same on every page. A name of no known kind stops the report. Only nothing is printed as 0.
- A number and its unit stay on one line: `html` sets the blank between them unbreakable, for every template. Formulas
  of the method read right when a screen reader or a copy drops the setting: exp(…) and words in place of raised
  letters, a lowered letter only where it is part of a symbol.
- The funder report tells its story first, at most six pages for up to five parts, and keeps what it rests on in an annex
  that follows without a break. Its first page stands alone: a brief is that page by itself, with the same records, and
  verifies. In the annex narrow tables, lists and notes stand in two columns; a table breaks with its header repeated and
  three rows on each side at least, because fewer look like headers to a checker. What holds for all parts is said once.
  No letter on paper is smaller than 7 pt, none in a table of the story than 8. No page but the last has a quarter empty at
  its foot; `tests/test_pages.py` measures all of it. What has no room is left out by a rule that the page tells: the
  factor table has the rows that move a figure (`funder.factors`) and counts the rest, the table of break-even points the
  variables that cross in one draw of ten; the attached files have all.
- A section's first sentence stays with what follows it.
- A chart has a title that says what it shows, made from the results, and an alternative with every value and interval
  shown; where there is nothing to show, there is no chart. Charts name things where they are drawn, at the last column
  or at the end of a line. The pieces of the bars of stages are named once above all bars, in the order of the pieces,
  because a sliver has no room for a name; the largest is named on its bar where it has. Texts are measured letter by
  letter in the report's typeface and set so, without kerning, so that no label is cut or lies on another;
  `tests/test_labels.py` checks it. 12 parts at most, of more the 5 largest, 6 grades, the smallest together; parts left out
  are counted beside the chart. The steps that lower
  parts have one figure with a panel for each of five parts, the break-even points one with six panels at most; a chart
  calls a part by its name, never by its id. Dark and middle tones take turns: neighbours differ by 20 in lightness and by 20 in colour (CIE 1976) as drawn, in greyscale and in three
  simulations, any two of a chart by 15 (CIEDE2000) in all but greyscale, and a white line parts them; plastic is
  hatched; all data has a contrast of 3 with the page. The thresholds are ours. Letters have two sizes, 7.5 and 8.5 pt.
  Charts of decisions use at most 2,000 draws; the command uses all.
- The HTML is one file with no script, the same page as the PDF's with the typeface cut down to its letters (WOFF2,
  about 50 kB in place of 1.3 MB) and names for what scrolls sideways. Charts are elements of the page, their words
  in its typeface; every colour in them is an attribute, so that a rule can set it again. Where a template gives
  ``picture`` a third argument, a chart is drawn again for a phone, and the style sheet shows either; the rest scroll,
  with a shadow at the edge. A table of class ``cards`` has a card for each row on a phone: `screen` writes the name of
  the column to each cell, and the roles that a block loses. Sizes in points are for paper; ``screen.css``, which a PDF
  does without, sets every size again in ``rem``, with ``!important``, so that a new rule for paper cannot make text on a screen small. A table has a
  caption, or is named by its heading with ``aria-labelledby``, as its ``.scroll`` is. Printing from a browser takes the
  rules for paper; lines of dots, page numbers in the contents and running titles are lost there.
- The dark has tones of its own, by the same rules as the light: `screen` holds both in one table, and `tests/test_palette.py`
  measures both. A page names its colours in ``:root`` and nowhere else. A print is light.

Of the words:

- `message` marks a text of a module, ``_`` and ``trans`` one of a template. ``make messages`` writes
  ``report_templates/translations/messages.pot``; ``es.po`` and ``de.po`` are written by hand. Numbers are tied figures in
  placeholders, and no sentence bends with a number but by ``pluralize``. A figure is made in the head of ``trans``, in
  the order of the sentence, because making it counts its marks. ``_`` formats its text, so a per cent sign is ``%%`` in
  it; `translate` does not. The word between the ends of an interval comes from the catalogue by `ties`.
- A sentence that carries a figure or a verdict is a `Said` of `impact.base.sentences`, made from the results in one
  place. A page says it by ``say(sentence, name)``, which ties it: `verification` makes it again and compares its words.
  The texts of the tables of rules are messages too (``babel.cfg``); where a language lacks one, it is said in English.
- A translator of the funder report finds its fixed texts and the words of its charts in the catalogue. No messages yet
  and English: rules on claims, doubts, settings in words. Words of the records and tables stay as written: routes,
  rules of equivalence, how a factor is known, citations.
"""
