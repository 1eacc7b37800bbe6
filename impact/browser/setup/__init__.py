"""The settings in the browser: read as forms, written where they stand; and a new folder made by questions.

- `asked`: what the ten questions are, and their defaults.
- `fields`: settings as fields, made from the keys of their classes.
- `partlist`: rows of the list of parts, changed where they stand.
- `questions`: the ten questions that make a new folder.
- `tables`: the page of settings.
- `tomltext`: keys of ``workshop.toml``, changed where they stand.
- `writer`: files read in a copy of the folder before they are written.
"""
