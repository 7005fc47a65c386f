"""The browser door: routes, templates, static files."""
