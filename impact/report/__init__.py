"""The report: what it says (context), its charts, and its rendering to HTML and PDF."""
