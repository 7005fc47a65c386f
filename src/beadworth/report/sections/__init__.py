"""The sections of a report, in their order: each is written once, for page and PDF."""
