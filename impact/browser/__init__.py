"""The workshop as pages for a browser: `impact open` serves a folder from the machine where it lies, and nothing leaves it.

In: a workshop folder, and what people type, tap and count. Out: pages, and the same files that the commands read.

- `address`: where the pages are found, and the loop that serves them.
- `guards`: who may come in, and what may be sent.
- `pages`: what a page is, and the one list of all pages.
- `served`: the folder that is served: read when it changed, written under one lock.
- `server`: the application.
- `style`: how the pages look.

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
- Pages are in English; no message of theirs is in the catalogue yet.
"""
