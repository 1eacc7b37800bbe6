"""The workshop as pages for a browser: `impact open` serves a folder from the machine where it lies, and nothing leaves it.

In: a workshop folder, and what people type, tap and count. Out: pages, and the same files that the commands read.

- `address`: where the pages are found, and the loop that serves them.
- `guards`: who may come in, and what may be sent.
- `pages`: what a page is, and the one list of all pages.
- `bars`: both footprints of each part as rows, in place of a chart.
- `figures`: the page of figures: the first page of the funder report as the records stand now.
- `reports`: the page of reports: made, downloaded, checked.
- `served`: the folder that is served: read when it changed, written under one lock.
- `server`: the application.
- `setup`: a folder for the page of settings, and the ten questions of a new folder.
- `style`: how the pages look.
- `whatif`: the page of what if.

A page is a module with a `PAGE` (`pages.Page`: name, path, blueprint), and one line in `pages.MODULES`. Its routes stand
without the path; its templates lie in ``report_templates/browser/``, extend ``base.html`` and fill the blocks ``title``
and ``main`` (``head`` for a script, as ``<script type="module" src="/static/NAME.js">``). Each form that posts holds
``{{ hidden() }}``; a script sends ``form_token`` in the header ``X-Form-Token``. A route asks `served.served()` for the
folder: ``read()`` gives workshop, results and problems as of now, ``writing()`` is the lock under which it writes (by
`impact.base.files.write`), ``now()`` the time. `guards.say` tells the next page something once; after a post a route
answers with a redirect (303). The folder need not exist for a page that is `first`; the others lead there meanwhile.

What holds here:

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
"""
