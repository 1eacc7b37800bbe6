"""The settings in the browser: read as forms, written where they stand; and a new folder made by questions.

- `fields`: settings as fields, made from the keys of their classes.
- `questions`: the ten questions that make a new folder.
- `tables`: the page of settings.
- `writer`: keys and rows changed where they stand, read before they are written.
"""
