"""The workshop as pages for a browser: `impact open` serves a folder from the machine where it lies, and nothing leaves it.

In: a workshop folder, and what people type, tap and count. Out: pages, and the same files that the commands read.

- `address`: where the pages are found, and the loop that serves them.
- `bars`: both footprints of each part as rows, in place of a chart.
- `batches`: the page of the rows: worst doubt first, mended, taken out and taken back; the sums of each month.
- `bench`: the page of the open batches: weighed, timed, counted, closed.
- `desk`: what the pages of the bench are made of, as of one moment.
- `doubts`: the doubts of `impact check` about one batch, before it stands in the table too; the likely slip mended.
- `entering`: what pages that write entries share: forms read, entries added once, fields.
- `figures`: the page of figures: the first page of the funder report as the records stand now.
- `guards`: who may come in, and what may be sent.
- `journal`: every entry once, flushed before the table is written anew.
- `logtable`: the table of batches as a file: rows are changed, all else keeps its bytes.
- `openbatch`: open batches folded from entries, and the row that each becomes.
- `pages`: what a page is, and the one list of all pages.
- `reports`: the page of reports: made, downloaded, checked.
- `served`: the folder that is served: read when it changed, written under one lock.
- `server`: the application, and how all pages look.
- `setup`: a folder for the page of settings, and the ten questions of a new folder.
- `takeover`: a workbook of batches taken over to a table.
- `whatif`: the page of what if.

A page is a module with a `PAGE` (`pages.Page`: name, path, blueprint), and one line in `pages.MODULES`. Its routes stand
without the path; its templates lie in ``report_templates/browser/``, extend ``base.html`` and fill the blocks ``title``
and ``main`` (``head`` for a script, as ``<script type="module" src="/static/NAME.js">``). Each form that posts holds
``{{ hidden() }}``; a script sends ``form_token`` in the header ``X-Form-Token``. A route asks `served.served()` for the
folder: ``read()`` gives workshop, results and problems as of now, ``writing()`` is the lock under which it writes (by
`impact.base.files.write`), ``now()`` the time. `guards.say` tells the next page something once; after a post a route
answers with a redirect (303). The folder need not exist for a page that is `first`; the others lead there meanwhile.

What holds here:

- The folder is the truth, and every command goes on reading it alone. An open batch lies in the journal
  (``history/entries.jsonl``) until it is closed: a row that lacks what every row must have would stop all commands.
  From then on its row is the truth; the journal keeps what each change began with and ended in.
- An entry has a key, made by the page that sends it, and counts once however often it is sent. It is flushed to the disk
  before the table is written beside its place and renamed; a mark follows. Whoever finds an entry without its mark writes
  the table again, unless the row is no longer as it was before: then somebody else had the last word.
- While the table cannot be written, taps and fields go to the journal all the same; what changes a row is refused (503) and
  waits in the device. Only what stands in the journal is answered as kept (507).
- A key that was used for another form is refused. A line of the journal that no page wrote is passed over. Nothing is
  written through a link.
- A change of a row says what it begins with, all of it. Where the row is another by now, nothing is written and both are
  shown. Fields of an open batch are compared one by one, so two devices may fill in one batch.
- Nothing said yet, none and not recorded are three things in the journal; the table knows two, a 0 and a blank.
- A batch takes over from the one before it what seldom changes: binder, place, the way of rejects, and what there was none
  of; a box says so before it is opened, and each field after. No amount, time or count is taken over.
- Doubts come from the readers of `impact check`, on a copy of the folder with the row in it; an open batch is tried as if
  all its paper had become parts, and only what was typed is doubted. What would change is told in the words of `check`.
- A bare number goes into a column as it was typed where the header has the unit of the scale, else with its unit. What
  the pages work out themselves is written so that no reader can take it in two ways: Wh with one decimal, h with two.
- What was typed goes before a meter, a meter before a time. Runs that were shared differently are added up as shares.
- One lock for all that is written through pages (``history/lock``), held from what a view reads to what it writes. The
  commands write nothing of what pages write.
- A page with a script sends what was changed and puts the answer in place of its content, never under a finger; what
  cannot be sent waits in the device (``localStorage``) and is sent in its order. The text that waits is in clear there.

- Guards stand before every page, in `guards` and nowhere else. There is no style attribute and no script in a page: the
  browser is told to run none. Text of people is escaped by the template.
- Without `--lan` the server listens on this machine alone; a code is asked for there too, because other people may have
  accounts on it. The browser that the command opens brings it along. Codes and sessions end with the server.
- ``Referrer-Policy`` is ``same-origin``: with ``no-referrer`` browsers tell ``null`` as the origin of our own forms.
- Every page works without a script. Nothing is fetched from elsewhere.
- Figures are printed by the template of the report's first page, from the same objects, with as many draws as `impact
  totals`: a page and a report of one folder read alike, to the digit. Draws, and steps that rest on settings alone, are kept
  while the settings stay (`Served.study`); steps that help a part, while its batches stay.
- Settings are written by `setup`: a changed value in its line, a new key below the last of its table, and nothing
  else moves. A copy of the folder with the change is read first; what the readers then refuse and did not before is shown at
  its field, and nothing is written. Forms are made from the keys of the settings' classes, so that a new key has a field.
- What if writes nothing. What batches record cannot be kept from it; shares that are kept lose how the old ones were known.
- A report is made beside the pages, one at a time, and held in memory. A PDF that is checked has no name here.
- Pages are in English; no message of theirs is in the catalogue yet.

Known to be weak: of rows with one name twice only the first is reached, and a closed row keeps its name. A page that is
loaded anew without a network does not show; what waits is sent when it shows again. A batch that was recorded with a
scale of another unit is told by its cells alone. Where the system has no locks (Windows) two programs may meet in one
table; two devices of one program do not. Without TLS whoever shares the network can read along. Eight letters of a code
are tried ten times a minute by all devices together, so a stranger can keep others from coming in, not from going on.
Whoever sends a byte now and then holds a connection, 500 of which are served. A view that fails (500) is asked again by
the device and holds up what waits behind it. A folder that cannot be written shows figures, and neither bench nor rows.
"""
