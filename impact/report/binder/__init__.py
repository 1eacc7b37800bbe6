"""The binder report: every binder beside the others in one part, and what to test next.

- `chart`: dots with whiskers, each labelled where it stands.
- `content`: what a workshop gives up and gains with each binder; no score and no winner.

Each binder stands beside the synthetic one. A footprint is called lower from a chance of 0.9, as in the totals, and the
difference is shown in shared draws, because the intervals of the footprints overlap by what is shared. Reject rates
count as told apart below p 0.05. The trial is the size at which the exact test of the expected counts comes to p 0.005:
1.96 + 0.84 standard errors, four times in five. Cautions are those of every binder shown, tried or not.
The title names which are lower and higher; the table of all stands whole on the first page.
"""
