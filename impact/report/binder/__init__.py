"""The binder report: every binder beside the others in one part, and what to test next."""
